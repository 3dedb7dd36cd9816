// Dragging a child to another group: fills the child's own form and sends it.
let dragged = null;
for (const child of document.querySelectorAll("[data-pupil]")) {
  child.addEventListener("dragstart", (event) => {
    dragged = child;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", child.dataset.pupil);
  });
  child.addEventListener("dragend", () => { dragged = null; });
}
for (const group of document.querySelectorAll("[data-group]")) {
  group.addEventListener("dragover", (event) => {
    if (dragged && !group.contains(dragged)) {
      event.preventDefault();
      group.classList.add("over");
    }
  });
  group.addEventListener("dragleave", () => group.classList.remove("over"));
  group.addEventListener("drop", (event) => {
    event.preventDefault();
    group.classList.remove("over");
    if (!dragged || group.contains(dragged)) return;
    const form = dragged.querySelector("form");
    form.elements.to.value = group.dataset.group;
    form.requestSubmit(form.querySelector("button[value='move']"));
  });
}
