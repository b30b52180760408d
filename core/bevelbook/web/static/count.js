// Counting with a finger: one less and one more beside a number. A count begins with what the records say is left, what
// came or was taken out with nothing.
"use strict";

(() => {
    const COUNTED = "counted";

    function isCount(form) {
        return form.querySelector("input[name=what]:checked")?.value === COUNTED;
    }

    document.querySelectorAll(".count [data-step]").forEach((button) => {
        const input = button.parentElement.querySelector("input");
        button.hidden = false;
        button.addEventListener("click", () => {
            const typed = input.value.trim();
            const begins = isCount(input.form) ? input.dataset.now || "0" : "0";
            const number = Number(typed || begins);
            if (!Number.isInteger(number)) return;
            input.value = String(Math.max(0, number + Number(button.dataset.step)));
            input.dispatchEvent(new Event("input", { bubbles: true }));
        });
    });
})();
