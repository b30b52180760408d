// The minutes that are left of a wait, counted by the laptop's clock and changed once a minute. The clock time at which
// it ends is on the page already: without this script, or with the screen dark, that is enough.
"use strict";

(() => {
    const MINUTE_MS = 60000;
    const opened = Date.now();

    document.querySelectorAll("time[data-left-s]").forEach((end) => {
        const line = document.getElementById(end.dataset.line);
        if (!line) return;
        const endsAt = opened + Number(end.dataset.leftS) * 1000;
        let timer = 0;

        function show() {
            clearTimeout(timer);
            const left = Math.ceil((endsAt - Date.now()) / MINUTE_MS);
            line.textContent = left > 0 ? `${left} min left` : end.dataset.over;
            if (left > 0) timer = setTimeout(show, endsAt - Date.now() - (left - 1) * MINUTE_MS + 50);
        }

        document.addEventListener("visibilitychange", () => !document.hidden && show());
        window.addEventListener("pageshow", (event) => {
            // Kept by the browser while another page was open: the time since then counts too.
            if (event.persisted) show();
        });
        show();
    });
})();
