// The form of a run: another car draws the form again for its diffs, with all that was typed; "nothing" and something
// else take each other away. Without this script the page says so after it was sent.
"use strict";

document.querySelectorAll(".run-form .cars input").forEach((input) => {
    input.addEventListener("change", () => input.form.requestSubmit());
});

document.querySelectorAll(".run-form .ticks").forEach((group) => {
    const boxes = [...group.querySelectorAll("input[type=checkbox]")];
    const nothing = boxes.find((box) => box.value === "nothing");
    const words = group.querySelector("input:not([type=checkbox])");
    group.addEventListener("change", (event) => {
        if (!nothing || (event.target === words && !words.value.trim())) return;
        if (event.target !== nothing) nothing.checked = false;
        else if (nothing.checked) {
            boxes.forEach((box) => {
                box.checked = box === nothing;
            });
            // Words that were typed stay: they are looked at when the form is sent.
        }
    });
});
