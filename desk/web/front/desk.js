// What the desk's pages do beyond plain HTML: live parts by htmx, progress of
// an upload, and the 3D view where there is one. Pages work without any of it.
import "htmx.org";
import { watchUploads } from "./upload.js";

watchUploads(document);

// The error summary is where reading should go on after a form came back.
document.querySelector("[data-focus]")?.focus();
document.addEventListener("htmx:load", (e) => e.detail.elt.querySelector("[data-focus]")?.focus());

document.addEventListener("click", (e) => {
	if (e.target.closest("[data-print]")) window.print();
	const link = e.target.closest('a[href^="#"]');
	if (link) reveal(link.getAttribute("href").slice(1));
});
if (location.hash) reveal(location.hash.slice(1));

// reveal opens what a link within the page leads into, if it is folded away,
// and goes on from there.
function reveal(id) {
	const at = document.getElementById(id);
	const folded = at?.closest("details:not([open])");
	if (!folded) return;
	folded.open = true;
	(at === folded ? folded.querySelector("summary") : at).focus();
}

// A form is sent once. What it carries makes a second sending harmless; this
// spares the person the wait.
document.addEventListener("submit", (e) => {
	const form = e.target;
	if (form.method !== "post" || e.defaultPrevented) return;
	if (form.dataset.sent) {
		e.preventDefault();
		return;
	}
	form.dataset.sent = "yes";
});
// Back at the form for asking after it was sent, it is made afresh and filled in
// by the browser. Sent as it is, it is the form that was sent, and counts once;
// changed, it is a new one.
const asking = document.querySelector("form[data-asking]")?.elements.form;
if (asking && performance.getEntriesByType("navigation")[0]?.type === "back_forward") {
	const fresh = asking.value, was = tab("asked");
	if (was) asking.value = was;
	document.addEventListener("input", () => (asking.value = fresh), { once: true });
}
document.addEventListener("submit", (e) => {
	if (e.target.matches("form[data-asking]")) tab("asked", e.target.elements.form.value);
});

// tab keeps a word for as long as the browser's tab is open, where it may.
function tab(name, word) {
	try {
		return word ? sessionStorage.setItem(name, word) : sessionStorage.getItem(name);
	} catch {
		return null;
	}
}

// Back from the next page, a form may be sent again.
window.addEventListener("pageshow", () => {
	for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});

// views starts the 3D views under a node. The code for them is fetched only
// where there is one.
async function views(node) {
	const found = [...node.querySelectorAll(".view[data-mesh]:not([data-ready])")];
	if (node.matches?.(".view[data-mesh]:not([data-ready])")) found.push(node);
	if (found.length === 0) return;
	const { show } = await import("./view.js");
	for (const v of found) show(v);
}
views(document);
document.addEventListener("htmx:load", (e) => views(e.detail.elt));
