/* What older browsers lack: iPadOS 15.4 to 18.2, Firefox 124 and before (docs/browsers.md). */
"use strict";
AbortSignal.timeout ??= (wait) => {                                          /* Safari 16 */
  const one = new AbortController();
  setTimeout(() => one.abort(), wait);
  return one.signal;
};
HTMLFormElement.prototype.requestSubmit ??= function requestSubmit() {       /* Safari 16 */
  if (this.dispatchEvent(new Event("submit", { bubbles: true, cancelable: true }))) this.submit();
};
(() => {                                                                     /* the pressed button: Safari 16.4 */
  const form = document.createElement("form"), Plain = FormData;
  form.append(Object.assign(document.createElement("button"), { name: "a" }));
  if ([...new FormData(form, form.firstChild)].length) return;
  globalThis.FormData = function FormData(of, by) {
    const made = of ? new Plain(of) : new Plain();
    if (by?.name) made.append(by.name, by.value);
    return made;
  };
  globalThis.FormData.prototype = Plain.prototype;
})();
(() => {                                                                     /* sheets over the page: Safari 17, Firefox 125 */
  if ("popover" in HTMLElement.prototype) {                                  /* iPadOS 17 to 18.2 shuts none by a tap beside it */
    document.addEventListener("pointerdown", (event) => {
      const was = document.querySelector("[popover]:popover-open");
      if (was && !was.contains(event.target) && !event.target.closest?.("[popovertarget]")) was.hidePopover();
    });
    return;
  }
  const show = (sheet, open) => {
    sheet.classList.toggle("is-open", open);
    for (const one of document.querySelectorAll(`[popovertarget="${sheet.id}"]`)) one.setAttribute("aria-expanded", String(open));
  };
  HTMLElement.prototype.hidePopover = function hidePopover() { show(this, false); };
  let opener = null;
  document.addEventListener("click", (event) => {
    const by = event.target.closest?.("[popovertarget]"), was = document.querySelector("[popover].is-open");
    const wanted = by && document.getElementById(by.getAttribute("popovertarget"));
    if (was && (wanted || !was.contains(event.target))) show(was, false);
    if (!wanted || wanted === was) return;
    opener = by;
    show(wanted, true);
    wanted.tabIndex = -1;
    wanted.focus({ preventScroll: true });
  });
  document.addEventListener("keydown", (event) => {
    const was = event.key === "Escape" && document.querySelector("[popover].is-open");
    if (!was) return;
    show(was, false);
    opener?.focus({ preventScroll: true });
  });
})();
