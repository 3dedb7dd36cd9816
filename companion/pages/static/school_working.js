// Asks how far the work is, moves the bar, and goes on when it has ended.
const bar = document.getElementById("far");
const told = document.getElementById("told");
async function ask() {
  const answer = await fetch("/class/take-in/progress");
  const [done, total, ended] = (await answer.text()).split(" ").map(Number);
  if (ended) {
    location.replace("/class/take-in/working");
    return;
  }
  bar.max = total || 1;
  bar.value = done;
  told.textContent = `${done} of ${total}`;
  setTimeout(ask, 300);
}
setTimeout(ask, 300);
