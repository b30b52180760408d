// Number keypads for the inputs of a form. A keypad has neither letters nor a minus sign nor a colon: a button beside the
// input changes the sign, and on a touch screen the unit is a button that brings up letters, for another unit, and one
// types the colon of minutes and seconds. Without this script the keyboard is that of words.
"use strict";

function button(words, label, pressed) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.setAttribute("aria-label", label);
    if (pressed !== undefined) made.setAttribute("aria-pressed", String(pressed));
    return made;
}

function keyboardOf(input, mode) {
    input.inputMode = mode;
    input.blur();
    input.focus();
}

function addUnitButton(input, unit, name) {
    const isText = input.inputMode === "text";
    const made = button(unit.textContent, `${unit.textContent}: type another unit for ${name}`, isText);
    made.className = "other-unit";
    made.addEventListener("click", () => {
        const letters = made.getAttribute("aria-pressed") !== "true";
        made.setAttribute("aria-pressed", String(letters));
        keyboardOf(input, letters ? "text" : input.dataset.keypad);
    });
    unit.hidden = true;
    unit.after(made);
}

function signButton(name, inputOf) {
    const made = button("+/\u2212", `change sign of ${name}`);
    made.className = "sign-change";
    made.addEventListener("click", () => {
        const input = inputOf();
        const value = input.value.trim();
        input.value = /^[-\u2212]/.test(value) ? value.slice(1) : `-${value.replace(/^\+/, "")}`;
        input.focus();
    });
    return made;
}

function colonButton(name, input) {
    const made = button(":", `type a colon in ${name}, for minutes and seconds`);
    made.className = "colon";
    made.addEventListener("click", () => {
        const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
        input.focus();
        input.setRangeText(":", from, to, "end");
        input.dispatchEvent(new Event("input", { bubbles: true }));
    });
    return made;
}

// One button for a row of numbers: it changes the sign of the one that the cursor was in last.
function addRowSignButton(row) {
    const inputs = [...row.querySelectorAll("input[data-keypad]")];
    let last = inputs[0];
    inputs.forEach((input) => {
        input.addEventListener("focus", () => {
            last = input;
        });
    });
    row.after(signButton(row.dataset.signedRow, () => last));
}

function addKeypads(root) {
    root.querySelectorAll("[data-signed-row]").forEach(addRowSignButton);
    root.querySelectorAll("input[data-keypad]").forEach((input) => {
        const name = document.querySelector(`label[for="${input.id}"]`).textContent.trim().toLowerCase();
        const isText = input.dataset.retyped === undefined && /[a-z\u00b0]/i.test(input.value);
        input.inputMode = isText ? "text" : input.dataset.keypad;
        const unit = input.parentElement.querySelector(".unit");
        const isTouched = matchMedia("(any-pointer: coarse)").matches;
        if (unit && isTouched) addUnitButton(input, unit, name);
        if (input.dataset.minutes !== undefined && isTouched) input.after(colonButton(name, input));
        if (input.dataset.signed !== undefined) input.after(signButton(name, () => input));
    });
}

addKeypads(document);
document.addEventListener("drawn", (event) => addKeypads(event.target));
