// A phone's own code, by which the laptop knows it again: kept by the browser for the address where it was paired, sent
// where the cookie is lost, and taken along to a new address of the laptop. The code that the laptop shows comes behind
// the # of a scanned address, is typed into its field, and taken out of the address.
"use strict";

(() => {
    const OWN = "#phone=";
    // Only this machine, bare private addresses, and names that no other network has: the code goes nowhere else.
    const NEAR = /^(localhost|[a-z0-9-]+(\.local|\.lan|\.home\.arpa|\.test)?|127(\.\d{1,3}){3}|10(\.\d{1,3}){3}|192\.168(\.\d{1,3}){2}|172\.(1[6-9]|2\d|3[01])(\.\d{1,3}){2}|169\.254(\.\d{1,3}){2})(:\d{1,5})?$/i;

    function kept(key) {
        try {
            return localStorage.getItem(key) || "";
        } catch {
            return "";
        }
    }

    function keep(key, code) {
        try {
            if (code) localStorage.setItem(key, code);
            else localStorage.removeItem(key);
        } catch {
            // Without it the phone is paired once more at a new address.
        }
    }

    function takeFragment() {
        const found = location.hash;
        if (found) history.replaceState(null, "", location.pathname + location.search);
        return found;
    }

    const paired = document.getElementById("own-code");
    if (paired) keep(paired.dataset.kept, paired.dataset.code);
    const ended = document.getElementById("ended");
    if (ended) keep(ended.dataset.kept, "");

    const known = document.getElementById("known");

    function takeIn() {
        const fragment = takeFragment();
        const form = document.getElementById("pair");
        const code = /^#\d{8}$/.test(fragment) ? fragment.slice(1) : "";
        if (code) {
            form.elements.code.value = `${code.slice(0, 4)} ${code.slice(4)}`;
            form.elements.code.removeAttribute("autofocus");
            form.elements.code.blur();
            return;
        }
        const brought = /^#phone=[\w-]+$/.test(fragment) ? fragment.slice(OWN.length) : "";
        const own = kept(known.dataset.kept) || brought;
        if (own && (brought || "firstLook" in form.dataset)) {
            keep(known.dataset.kept, own);
            known.elements.own_code.value = own;
            known.submit();
        }
    }

    if (known) {
        if ("forget" in known.dataset) keep(known.dataset.kept, "");
        takeIn();
        addEventListener("hashchange", () => location.hash && takeIn());
    }

    const moved = document.getElementById("moved");
    if (moved && kept(moved.dataset.kept)) {
        moved.hidden = false;
        const form = moved.querySelector("form");
        form.addEventListener("submit", async (event) => {
            event.preventDefault();
            event.stopImmediatePropagation();
            const typed = form.elements.address.value.trim().replace(/^http:\/\//i, "").replace(/\/.*$/, "");
            const isNear = NEAR.test(typed);
            moved.querySelector(".fault").hidden = isNear;
            moved.querySelector(".fault").textContent = isNear ? "" : form.dataset.fault;
            if (!isNear) return;
            const go = () => location.assign(`http://${typed}${moved.dataset.pair}${OWN}${kept(moved.dataset.kept)}`);
            const waits = await waitHere();
            if (waits) sayFirst(form, waits, go);
            else go();
        }, true);
    }

    async function waitHere() {
        try {
            return (await window.bevelbook.waiting.all()).length;
        } catch {
            return 0;
        }
    }

    // What waits at this address is not seen at another one.
    function sayFirst(form, waits, go) {
        form.querySelector(".waits-here")?.remove();
        const said = document.createElement("div");
        said.className = "message waits-here";
        said.setAttribute("role", "alert");
        const words = document.createElement("p");
        const many = waits === 1 ? "1 waits" : `${waits} wait`;
        words.textContent = `${many} on this phone at this address, ${location.host}. At the new one ${waits === 1 ? "it is"
            : "they are"} not seen, and this page cannot be opened again until the laptop is here once more. Hand over first, `
            + "or copy it as text.";
        const ways = [
            ["Hand over now", async () => {
                await window.bevelbook.waiting.handOver();
                const left = await waitHere();
                if (left) sayFirst(form, left, go);
                else words.textContent = "Nothing waits here any more. Open it there.";
            }],
            ["As text", () => {
                let text = said.querySelector("textarea");
                if (!text) {
                    text = document.createElement("textarea");
                    text.rows = 8;
                    text.readOnly = true;
                    text.setAttribute("aria-label", "What waits here, as text");
                    said.append(text);
                }
                text.value = window.bevelbook.waiting.text();
                text.focus();
                text.select();
            }],
            ["Open it there all the same", go],
        ];
        said.append(words, ...ways.map(([label, act]) => {
            const button = document.createElement("button");
            button.type = "button";
            button.className = "other";
            button.textContent = label;
            button.addEventListener("click", act);
            return button;
        }));
        form.append(said);
        said.scrollIntoView({ block: "center" });
    }
})();
