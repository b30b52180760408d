// A file that is dropped on the page goes into its field, and the form is sent. Without this script it is chosen.
"use strict";

(() => {
    const field = document.getElementById("field-file");
    const place = field && field.closest(".drop");
    if (!place) return;

    function hasFile(event) {
        return event.dataTransfer && [...event.dataTransfer.types].includes("Files");
    }

    // Anywhere else on the page a browser would open the file in place of the page.
    document.addEventListener("dragover", (event) => {
        if (!hasFile(event)) return;
        event.preventDefault();
        place.classList.add("over");
    });
    document.addEventListener("dragleave", (event) => {
        if (!event.relatedTarget) place.classList.remove("over");
    });
    document.addEventListener("drop", (event) => {
        if (!hasFile(event)) return;
        event.preventDefault();
        place.classList.remove("over");
        if (event.dataTransfer.files.length !== 1) return;
        field.files = event.dataTransfer.files;
        field.form.requestSubmit();
    });
})();
