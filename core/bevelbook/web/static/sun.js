// The switch "Sun": black on white in heavier type, whatever the theme. The browser keeps it; where it may keep nothing,
// the switch lasts for the page. It runs in the head, so that a page is never drawn in the other colours first.
"use strict";

(() => {
    const KEY = "bevelbook-sun";
    const root = document.documentElement;

    function isKept() {
        try {
            return localStorage.getItem(KEY) === "on";
        } catch {
            return false;
        }
    }

    function keep(isOn) {
        try {
            if (isOn) {
                localStorage.setItem(KEY, "on");
            } else {
                localStorage.removeItem(KEY);
            }
        } catch {
            // This page only.
        }
    }

    function show(isOn) {
        root.classList.toggle("sun", isOn);
        const button = document.getElementById("sun");
        if (button) {
            button.setAttribute("aria-pressed", String(isOn));
        }
    }

    root.classList.add("has-script");
    show(isKept());
    document.addEventListener("DOMContentLoaded", () => {
        show(root.classList.contains("sun"));
        document.getElementById("sun").addEventListener("click", () => {
            const isOn = !root.classList.contains("sun");
            keep(isOn);
            show(isOn);
        });
    });
    // Another tab was switched, or this page came back as it was left.
    window.addEventListener("storage", (event) => event.key === KEY && show(isKept()));
    window.addEventListener("pageshow", (event) => event.persisted && show(isKept()));
})();
