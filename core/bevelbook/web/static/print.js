// A button that prints the page; without this script the browser's own menu does.
"use strict";

document.querySelectorAll("button[data-prints]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
});
