// Puts an entry that waits back into its form, to be changed: it keeps its key, its place and when it was noted. While it
// is in the form it is not handed over.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const { waiting, waitingForms } = bevelbook;
    if (!waiting || !waitingForms) return;
    const AGAIN_MS = 60000;
    let heldAt = 0;

    function formOf(entry) {
        const forms = [...document.querySelectorAll("form[data-waits]")];
        const path = (form) => new URL(form.getAttribute("action"), location.href).pathname;
        return forms.find((form) => form.dataset.waits === entry.kind && path(form) === entry.action);
    }

    function inputsOf(form, name) {
        return [...form.elements].filter((one) => one.name === name && one.type !== "hidden");
    }

    function addUnseen(form, name, text) {
        const input = document.createElement("input");
        input.type = "hidden";
        input.name = name;
        input.value = text;
        form.append(input);
    }

    // Chooses the car first: what the form has may differ from car to car.
    function chooseCar(form, entry) {
        const choices = inputsOf(form, "car");
        const same = choices.find((one) => one.value === entry.car);
        choices.forEach((one) => { one.checked = one === same; });
        const typed = same ? null : inputsOf(form, "car.typed")[0];
        if (typed) typed.value = entry.car || "";
        (same || typed)?.dispatchEvent(new Event("change", { bubbles: true }));
    }

    function typeInto(inputs, text) {
        const choice = inputs.find((one) => one.value === text && one.matches("[type=radio], [type=checkbox]"));
        if (choice) {
            choice.checked = true;
            choice.dataset.chosen = "yes";
            return true;
        }
        const typed = inputs.find((one) => !one.matches("[type=radio], [type=checkbox]"));
        if (typed) typed.value = text;
        return Boolean(typed);
    }

    // What has no place in the form any more goes along unseen, so that nothing of the entry is lost.
    function fill(form, entry) {
        chooseCar(form, entry);
        for (const [name, text] of entry.fields) {
            const inputs = inputsOf(form, name);
            const isUnseen = !inputs.length && [...form.elements].some((one) => one.name === name);
            if (["car", "car.typed", "key"].includes(name) || isUnseen || (!text && inputs.length)) continue;
            const field = name.replace(/^still\./, "");
            if (typeInto(inputs, text)) continue;
            if (text && typeInto([...inputsOf(form, `${field}.typed`), ...inputsOf(form, field)], text)) continue;
            addUnseen(form, name, text);
        }
        form.querySelectorAll("details").forEach((one) => {
            const inputs = [...one.querySelectorAll("input:not([type=hidden]), textarea, select")];
            one.open = inputs.some((input) => input.value && (input.checked || !input.matches("[type=radio], [type=checkbox]")));
        });
        form.elements.namedItem("key").value = entry.key;
        form.dispatchEvent(new CustomEvent("filled", { bubbles: true }));
    }

    function letGo() {
        const entry = waitingForms.changed();
        if (!entry) return;
        waitingForms.setChanged(null);
        waiting.store.change(entry.key, { changing_until: 0 }).then(() => waiting.handOver()).catch(() => {});
    }

    function leaveButton(form) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "other";
        button.textContent = "Leave it as it was";
        button.addEventListener("click", () => {
            form.querySelector(".changing")?.remove();
            waitingForms.empty(form);
            letGo();
        });
        return button;
    }

    function sayChanging(form, entry) {
        form.querySelector(".not-sent")?.remove();
        const line = document.createElement("div");
        line.className = "message changing";
        line.setAttribute("role", "status");
        const sentence = document.createElement("p");
        sentence.textContent = `Change what was noted at ${bevelbook.waitingWords.clock(entry.noted_ms)}, then store it: it `
            + "keeps its place.";
        line.append(sentence, leaveButton(form));
        form.prepend(line);
        line.tabIndex = -1;
        line.focus({ preventScroll: true });
        form.closest("details")?.setAttribute("open", "");
        line.scrollIntoView({ block: "start" });
    }

    // Opens an entry in its form; gives a sentence where it does not.
    bevelbook.changeWaiting = async (entry) => {
        const form = formOf(entry);
        if (!form) return "Its form is not on this page: it is changed on the page Note a run.";
        if (waitingForms.changed()) return "Another one is in the form, being changed: store that first.";
        if (bevelbook.waitingWords.wordsOf(form)) return "Something is typed in its form already: store that first.";
        if (!await waiting.holdWhileChanged(entry.key)) return "It waits no more: it was handed over. Correct it in the book.";
        heldAt = Date.now();
        const now = (await waiting.all()).find((one) => one.key === entry.key);
        waitingForms.showForm();
        waitingForms.empty(form);
        waitingForms.setChanged(now);
        fill(form, now);
        sayChanging(form, now);
        await waiting.look();
        return "";
    };

    document.addEventListener("emptied", (event) => event.target.querySelector(".changing")?.remove());
    document.addEventListener("input", () => {
        const entry = waitingForms.changed();
        if (!entry || Date.now() - heldAt < AGAIN_MS) return;
        heldAt = Date.now();
        waiting.holdWhileChanged(entry.key).catch(() => {});
    });
    window.addEventListener("pagehide", letGo);
})();
