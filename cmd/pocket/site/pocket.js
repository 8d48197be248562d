// What the log book's pages need where a worker of this browser makes them.
"use strict";
(() => {
	const base = new URL("./", document.currentScript.src), workers = navigator.serviceWorker;
	const start = document.getElementById("start"); // of the page that installs it

	if (start) {
		const says = (id) => {
			for (const each of start.children) each.hidden = each.id !== id;
		};
		if (!workers || !window.DecompressionStream) {
			says("cannot");
			return;
		}
		(async () => {
			says("installing");
			const registration = await workers.register(new URL("sw.js", base), { updateViaCache: "none" });
			const isNew = !registration.active;
			const coming = registration.installing;
			await Promise.race([workers.ready, new Promise((_, failed) => coming?.addEventListener("statechange", () => {
				if (coming.state === "redundant") failed();
			}))]);
			navigator.storage.persist();
			says("ready");
			if (isNew) location.replace(base);
		})().catch(() => says("broke-off"));
		return;
	}

	// A worker that nobody asks anything is stopped after half a minute, and takes seconds to come back.
	setInterval(() => { if (!document.hidden) fetch(new URL("alive", base)).catch(() => {}); }, 20_000);

	// A browser may ask the driver whether to keep what this site stores: not before there is something.
	for (const form of document.querySelectorAll("form[method=post]")) {
		form.addEventListener("submit", () => { navigator.storage.persist(); });
	}
	const unsafe = document.getElementById("not-kept");
	if (unsafe) navigator.storage.persisted().then((kept) => { unsafe.hidden = kept; });

	// A new version is installed beside the one that runs, and takes its place when asked to.
	const tell = (registration) => {
		if (document.getElementById("renew")) return;
		const note = document.createElement("div"), text = document.createElement("p"), button = document.createElement("button");
		note.id = "renew";
		note.className = "note";
		note.setAttribute("role", "status");
		text.textContent = "A new version of regear is here. What you typed on this page and did not save is lost when you change to it; the log book stays as it is. ";
		button.textContent = "Change to it";
		button.addEventListener("click", () => {
			workers.addEventListener("controllerchange", () => location.reload());
			registration.waiting ? registration.waiting.postMessage("take over") : location.reload();
		});
		text.append(button);
		note.append(text);
		document.getElementById("main").before(note);
	};
	workers.getRegistration(base).then((registration) => {
		if (registration.waiting) tell(registration);
		registration.addEventListener("updatefound", () => {
			const coming = registration.installing;
			coming.addEventListener("statechange", () => { if (coming.state === "installed") tell(registration); });
		});
		// Another tab changed to it.
		workers.addEventListener("controllerchange", () => tell(registration));
	});
})();
