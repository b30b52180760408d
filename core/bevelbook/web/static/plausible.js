// Numbers outside their declared range: asked about before they are kept, so that a run noted without the laptop needs no
// look later. Other ways to write a number, and other units, are judged by the laptop alone.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});

    function read(input) {
        const unit = input.closest(".typed")?.querySelector(".unit")?.textContent.trim() || "";
        let typed = input.value.trim().replace("\u2212", "-");
        if (unit && typed.toLowerCase().endsWith(unit.toLowerCase())) typed = typed.slice(0, -unit.length).trim();
        const clock = input.dataset.minutes !== undefined && /^(\d{1,2}):([0-5]\d)(?:[.,](\d+))?$/.exec(typed);
        if (clock) return { number: Number(`${60 * clock[1] + Number(clock[2])}.${clock[3] || 0}`), unit };
        return /^[-+]?\d+([.,]\d+)?$/.test(typed) ? { number: Number(typed.replace(",", ".")), unit } : null;
    }

    function ends(range) {
        return range.split(" ").map((end) => (end === "-" ? null : Number(end)));
    }

    function isOutside(number, [low, high]) {
        return (low !== null && number < low) || (high !== null && number > high);
    }

    function withUnit(words, unit) {
        return `${words} ${unit}`.trim();
    }

    function tooFar(typed, number, [low, high], unit) {
        const [far, limit] = low !== null && number < low ? ["low", `at least ${low}`] : ["high", `at most ${high}`];
        return `${typed} is too ${far}: ${withUnit(limit, unit)}.`;
    }

    function asksOf(called, number, [low, high], unit) {
        return `${withUnit(`${called} of ${number}`, unit)} is outside ${withUnit(`${low} to ${high}`, unit)}. `
            + "Is that right?";
    }

    // What is odd about the numbers of a form, in the words of the laptop: each with its input, a sentence, and what
    // confirms it where it may be right all the same.
    function odd(form) {
        const sure = [...form.querySelectorAll("input[name=sure]")].map((one) => one.value);
        const found = [];
        form.querySelectorAll("input[data-plausible], input[data-bounds]").forEach((input) => {
            const value = input.value.trim() ? read(input) : null;
            if (!value) return;
            const bounds = input.dataset.bounds && ends(input.dataset.bounds);
            const range = input.dataset.plausible && ends(input.dataset.plausible);
            const confirmed = `${input.name}=${input.value.trim()}`;
            if (bounds && isOutside(value.number, bounds)) {
                found.push({ input, words: tooFar(input.value.trim(), value.number, bounds, value.unit), confirmed: "" });
            } else if (range && isOutside(value.number, range) && !sure.includes(confirmed)) {
                const { called } = input.dataset;
                found.push({ input, words: asksOf(called, value.number, range, value.unit), confirmed });
            }
        });
        return found;
    }

    bevelbook.oddNumbers = odd;
})();
