// What a reading says while pouring: grams to go or over, at once, by the numbers and words that the page brings. A
// number is taken when it has as many decimals as the scale shows, after a second without a key, or on Enter; the next
// number then replaces it. Nothing is sent: without this script the form answers the same.
"use strict";

(() => {
    const NOISE = 1e-9;
    const PAUSE_MS = 1000;
    const goal = document.querySelector("[data-stop][data-words-to-go]");
    const input = goal && goal.querySelector("input[name=reading]");
    const line = goal && goal.querySelector(".to-go");
    if (!input || !line) return;

    const said = goal.dataset;
    const numbers = Object.fromEntries(Object.entries(said).map(([name, text]) => [name, Number(text)]));
    const filled = (words, figure) => words.replace("{}", figure);
    const grams = (mass) => Math.abs(mass).toFixed(numbers.decimalsLeft);
    const reading = (mass) => mass.toFixed(numbers.decimals);

    function read(text) {
        const found = /^\s*(\d+(?:[.,]\d*)?|[.,]\d+)\s*g?\s*$/i.exec(text);
        return found ? Number(found[1].replace(",", ".")) : null;
    }

    function words(mass) {
        const isFarOff = (one) => one > numbers.farthest;
        if (isFarOff(mass)) {
            const meant = [10, 100, 1000, 10000].map((power) => mass / power)
                .find((one) => one >= numbers.dryLessNoise && !isFarOff(one));
            return meant === undefined ? said.wordsFarOff : filled(said.wordsSlipped, reading(meant));
        }
        const isLight = mass < numbers.dryLessNoise;
        const isZeroed = isLight && mass <= numbers.mostZeroed;
        if (isLight && !isZeroed) return filled(said.wordsUnderDry, reading(numbers.dry));
        const left = (isZeroed ? numbers.oil : numbers.stop) - mass;
        const miss = (isZeroed ? numbers.oilMiss : numbers.miss) + NOISE;
        const full = isZeroed ? said.oilFull : said.wordsFull;
        const short = -left > miss ? filled(said.wordsOver, grams(left))
            : left > miss ? filled(said.wordsToGo, grams(left)) : full;
        return isZeroed ? `${short}; ${filled(said.wordsZeroed, reading(numbers.oilNearest))}` : short;
    }

    let timer = 0;
    let taken = null; // the text that the next number replaces

    function take(text) {
        const mass = read(text);
        if (mass === null) return;
        line.textContent = words(mass);
        line.classList.remove("not-steady");
        line.hidden = false;
        taken = text;
        if (document.activeElement === input) input.select();
    }

    function decimalsOf(text) {
        const found = /[.,](\d*)\s*$/.exec(text);
        return found ? found[1].length : 0;
    }

    // Above the keypad: the stop mass, what a reading says, the reading.
    let isInSight = false;
    input.addEventListener("input", (event) => {
        if (isInSight || !event.isTrusted) return;
        isInSight = true;
        goal.querySelector(".shown")?.scrollIntoView({ block: "start" });
    });

    // A scale that speaks (scale.js): what its reading says, steady or not, while nothing is typed.
    goal.addEventListener("scale-reading", ({ detail }) => {
        line.textContent = words(detail.mass);
        line.classList.toggle("not-steady", !detail.isSteady);
        line.hidden = false;
    });

    input.addEventListener("input", () => {
        clearTimeout(timer);
        // A point typed after a pause goes on with the number before it: 14, then .26.
        if (taken !== null && /^[.,]$/.test(input.value) && !/[.,]/.test(taken)) {
            input.value = taken.trim() + input.value;
        }
        taken = null;
        if (numbers.decimals > 0 && decimalsOf(input.value) >= numbers.decimals) {
            take(input.value);
        } else {
            timer = setTimeout(() => take(input.value), PAUSE_MS);
        }
    });

    input.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" || event.isComposing || !input.value.trim()) return;
        event.preventDefault();
        event.stopPropagation();
        clearTimeout(timer);
        take(input.value);
    });

    input.addEventListener("focus", () => input.select());
    if (input.value.trim()) take(input.value);
})();
