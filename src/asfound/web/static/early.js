/* What is typed before asfound.js is ready. */
"use strict";
globalThis.early = new Set();
early.note = (event) => early.add(event.target);
addEventListener("change", early.note);
