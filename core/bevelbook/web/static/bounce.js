// A finger in a glove bounces. A touch counts when it is released, as every click does; a second one on the same place
// within half a second is the same touch, also where the first has opened another page meanwhile. This stands in the head
// of a page, so that it is there before anything that can be touched. A button that counts is touched again and again: for
// it a fifth of a second has to do.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const APART_MS = 500;
    const COUNTS_APART_MS = 200;
    const COUNTS = "[data-step]";
    const MOVES_ON = "button, a[href], summary, input[type=submit]";

    let last = { target: null, at: -APART_MS, movedThePage: false };

    function controlOf(target) {
        return target.closest(MOVES_ON) || target.closest("label.way");
    }

    // A label hands its click on to its input: that second click is not a touch.
    function isTouch(event) {
        return event.detail > 0 && !(event.target.matches("input") && event.target.closest("label.way"));
    }

    document.addEventListener("click", (event) => {
        const control = event.target instanceof Element && isTouch(event) ? controlOf(event.target) : null;
        if (!control) return;
        const now = performance.now();
        const isSame = last.target === control || last.movedThePage;
        const apart = control.matches(COUNTS) ? COUNTS_APART_MS : APART_MS;
        if (now < APART_MS || (isSame && now - last.at < apart)) {
            event.preventDefault();
            event.stopImmediatePropagation();
            return;
        }
        last = { target: control, at: now, movedThePage: control.matches("a[href^='#']") };
    }, true);

    // Another script put other controls under the finger.
    document.addEventListener("page-moved", () => {
        last = { target: null, at: performance.now(), movedThePage: true };
    });

    bevelbook.isTouch = isTouch;
})();
