// Progress of a form that htmx sends, shown in its [data-progress]: a bar, and in
// words for those who do not see it. The words are the page's, in its language.

export function watchUploads(root) {
	root.addEventListener("htmx:xhr:loadstart", (e) => say(e.target, 0, 0));
	root.addEventListener("htmx:xhr:progress", (e) => {
		if (e.detail.lengthComputable) say(e.target, e.detail.loaded, e.detail.total);
	});
	root.addEventListener("htmx:afterRequest", (e) => {
		const at = place(e.target);
		if (at) at.hidden = true;
	});
	root.addEventListener("htmx:sendError", (e) => {
		const at = place(e.target);
		if (!at) return;
		at.hidden = false;
		at.querySelector("[role=status]").textContent =
			at.dataset.broken;
	});
}

function place(form) {
	return form.querySelector?.("[data-progress]");
}

function say(form, loaded, total) {
	const at = place(form);
	if (!at || total === 0 && loaded > 0) return;
	at.hidden = false;
	const percent = total > 0 ? Math.floor((loaded / total) * 100) : 0;
	at.querySelector("progress").value = percent;
	const words = at.querySelector("[role=status]");
	// Read aloud at every tenth only.
	const tenth = Math.floor(percent / 10) * 10;
	const text = loaded >= total && total > 0 ? at.dataset.sent : at.dataset.sending.replace("{percent}", tenth).replace("{size}", size(total, at.dataset.unit));
	if (words.textContent !== text) words.textContent = text;
}

function size(bytes, unit = "B") {
	if (bytes < 999_500) return `${Math.round(bytes / 1000)} k${unit}`;
	return `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} M${unit}`;
}
