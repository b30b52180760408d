// Forms for fingers in gloves. A form is sent once, and only while the laptop answers: what was typed stays on the screen
// else. Nothing is remembered.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const PATIENCE_MS = 5000;
    const ANSWER_MS = 10000;
    const ALIVE = document.currentScript.src;
    const TYPED = "input:not([type=hidden], [type=radio], [type=checkbox], [type=submit], [disabled]), textarea, select";

    const sending = new WeakSet();

    // A chosen one that is touched again is taken back, but where one is needed.
    document.addEventListener("click", (event) => {
        const input = event.target;
        if (!(input instanceof HTMLInputElement) || !input.matches("label.way > input[type=radio]")) return;
        if (input.dataset.chosen === "yes" && !input.closest("[data-needed]")) input.checked = false;
        document.getElementsByName(input.name).forEach((other) => {
            if (other.form === input.form) delete other.dataset.chosen;
        });
        if (input.checked) input.dataset.chosen = "yes";
        else input.dispatchEvent(new Event("change", { bubbles: true }));
    });

    // After a touch on a choice the cursor is in the one number that follows it, which then needs no touch of its own.
    function toTheNumber(label) {
        const figure = label.closest("form")?.querySelector(".figure input");
        const isBelow = figure && label.compareDocumentPosition(figure) & Node.DOCUMENT_POSITION_FOLLOWING;
        if (isBelow && !figure.value) figure.focus({ preventScroll: true });
    }

    document.addEventListener("click", (event) => {
        const label = event.target instanceof Element && event.target.closest("label.way");
        if (label && event.pointerType === "touch" && bevelbook.isTouch?.(event)) setTimeout(toTheNumber, 0, label);
    });

    function prepare(root) {
        root.querySelectorAll("label.way > input[type=radio]:checked").forEach((input) => {
            input.dataset.chosen = "yes";
        });
    }

    prepare(document);
    document.addEventListener("drawn", (event) => prepare(event.target));

    function say(form, words) {
        let line = form.querySelector(".not-sent");
        if (!line) {
            line = document.createElement("p");
            line.className = "message not-sent";
            line.setAttribute("role", "alert");
            form.append(line);
        }
        line.textContent = words;
        line.hidden = !words;
    }

    // While it is sent nothing of a form can be touched or typed: what is typed then would be in no entry.
    function hold(form, isHeld) {
        [...form.children].filter((one) => !one.matches(".not-sent")).forEach((one) => { one.inert = isHeld; });
        form.querySelectorAll("button").forEach((button) => {
            button.disabled = isHeld;
        });
        form.setAttribute("aria-busy", String(isHeld));
    }

    // Whether the laptop answers: judged by a request alone.
    async function laptopAnswers() {
        const stop = new AbortController();
        const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
        try {
            await fetch(ALIVE, { cache: "no-store", signal: stop.signal });
            return true;
        } catch {
            return false;
        } finally {
            clearTimeout(timer);
        }
    }

    // Where the answer does not come, the form can be sent again: the laptop stores it once.
    function sendAgainIfNothingComes(form) {
        setTimeout(() => {
            sending.delete(form);
            hold(form, false);
            say(form, "No answer yet. Send it again: it is stored once.");
        }, ANSWER_MS);
    }

    function isTypedIn(form) {
        return [...form.querySelectorAll(TYPED)].some((one) => one.value.trim()) || form.querySelector("input:checked");
    }

    async function send(form, button) {
        const named = button && button.name ? document.createElement("input") : null;
        if (named) {
            named.type = "hidden";
            named.name = button.name;
            named.value = button.value;
            form.append(named);
        }
        hold(form, true);
        if (await laptopAnswers()) {
            if (button && button.hasAttribute("formaction")) form.setAttribute("action", button.formAction);
            HTMLFormElement.prototype.submit.call(form); // a field may be named submit
            sendAgainIfNothingComes(form);
            return;
        }
        if (named) named.remove();
        sending.delete(form);
        hold(form, false);
        const is = isTypedIn(form) ? "What you typed is still here." : "Nothing was changed.";
        say(form, `Not sent: the laptop does not answer. ${is} Look whether the phone is in its network and the laptop is `
            + "awake, then send it again.");
    }

    document.addEventListener("submit", (event) => {
        const form = event.target;
        if ((form.getAttribute("method") || "").toLowerCase() !== "post" || event.defaultPrevented) return;
        event.preventDefault();
        if (sending.has(form)) return;
        sending.add(form);
        say(form, "");
        send(form, event.submitter);
    });

    // This page came back as it was left.
    window.addEventListener("pageshow", () => {
        document.querySelectorAll("form[aria-busy=true]").forEach((form) => {
            sending.delete(form);
            hold(form, false);
        });
    });

    // Enter on a keypad goes to the next field; on the last one it sends.
    document.addEventListener("keydown", (event) => {
        const input = event.target;
        if (event.key !== "Enter" || event.isComposing || !(input instanceof HTMLInputElement)) return;
        if (!input.dataset.keypad || !input.form) return;
        const fields = [...input.form.querySelectorAll(TYPED)].filter((one) => one.checkVisibility());
        const following = fields[fields.indexOf(input) + 1];
        if (!following) return;
        event.preventDefault();
        following.focus();
        if (following.select) following.select();
    });

    document.querySelectorAll("form").forEach((form) => {
        const keypads = [...form.querySelectorAll("input[data-keypad]")];
        keypads.forEach((input, place) => {
            input.enterKeyHint = place + 1 < keypads.length ? "next" : "done";
        });
    });

    bevelbook.touch = { hold, laptopAnswers };

    const faulty = document.querySelector("main .asks")
        || document.querySelector("main [aria-invalid=true], main fieldset:has(.fault)");
    if (faulty) faulty.focus();
})();
