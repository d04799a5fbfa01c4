// Reloads a page when a file changes that it was made from. The server says so over one open connection
// (Server-sent events, HTML Standard section 9.2); without it the page stays as it is.
"use strict";
(() => {
  const at = document.currentScript && document.currentScript.dataset.watch ? document.currentScript.dataset : document.body && document.body.dataset.watch ? document.body.dataset : null;
  const start = (data) => {
    if (!data || !data.watch || !window.EventSource) return;
    const say = (text) => { const p = document.getElementById("live"); if (p) p.textContent = text; };
    const query = "changes?page=" + encodeURIComponent(data.page) + "&since=" + encodeURIComponent(data.watch);
    const open = () => {
      const events = new EventSource(data.root + query);
      events.addEventListener("reload", () => { events.close(); location.reload(); });
      events.addEventListener("open", () => say("This page reloads itself when a file changes."));
      events.addEventListener("error", () => {
        say("The preview does not answer; this page waits for it.");
        if (events.readyState === EventSource.CLOSED) setTimeout(open, 2000);
      });
      addEventListener("pagehide", () => events.close());
    };
    open();
  };
  if (at) start(at);
  else addEventListener("DOMContentLoaded", () => start(document.body.dataset));
})();
