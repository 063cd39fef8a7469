// While papers are on the way, fetch this page again and swap the part that changes.
const EVERY_MS = 2500;

function liveIn(page) {
  return page.getElementById("papers-live");
}

async function refresh() {
  const live = liveIn(document);
  // Swapping would take the focus away from a button somebody is about to press.
  if (live.contains(document.activeElement) || document.hidden) return;
  const answer = await fetch(location.href, { credentials: "same-origin" });
  if (!answer.ok) return;
  const fresh = liveIn(new DOMParser().parseFromString(await answer.text(), "text/html"));
  if (fresh) live.replaceWith(document.adoptNode(fresh));
}

async function watch() {
  const live = liveIn(document);
  if (!live || live.dataset.unfinished === "0") return;
  try {
    await refresh();
  } catch {
    // No connection right now; the next round tries again.
  }
  setTimeout(watch, EVERY_MS);
}

setTimeout(watch, EVERY_MS);
