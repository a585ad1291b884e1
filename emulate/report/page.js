"use strict";
// The wipe: the line follows a mouse, a finger or the arrow keys. Without this script, both
// pictures stand side by side, and everything else on the page works the same.
for (const wipe of document.querySelectorAll(".wipe")) {
  const slider = wipe.parentElement.querySelector(".slider");
  const range = slider.querySelector("input");
  const move = (share) => {
    const at = Math.round(Math.min(100, Math.max(0, share)));
    range.value = at;
    range.setAttribute("aria-valuetext", `reference ${at} %, panel ${100 - at} %`);
    wipe.style.setProperty("--at", `${at}%`);
  };
  const follow = (event) => {
    const box = wipe.getBoundingClientRect();
    move((100 * (event.clientX - box.left)) / box.width);
  };
  wipe.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    wipe.setPointerCapture(event.pointerId);
    follow(event);
    range.focus({ preventScroll: true });
    event.preventDefault();
  });
  wipe.addEventListener("pointermove", (event) => {
    if (wipe.hasPointerCapture(event.pointerId)) follow(event);
  });
  range.addEventListener("input", () => move(Number(range.value)));
  for (const picture of wipe.querySelectorAll("img")) picture.draggable = false;
  slider.hidden = false;
  wipe.classList.add("on");
  move(50);
}
