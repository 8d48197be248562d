// The worker answers every page of the log book out of this browser: a program made of the same Go
// code as regear serve makes them, and IndexedDB holds the log book. The network is asked for the
// files below when a version is installed, and for nothing else.
"use strict";
const files = {{.Files}}; // each with a sum of what it holds, so that all are of one version
const program = "{{.Program}}"; // compressed with gzip, as few web spaces do it themselves
const base = new URL("./", location).pathname, ours = `regear ${base} `, cacheName = ours + "{{.Version}}";

// kept returns a file, from the network if this browser does not have it yet.
async function kept(name) {
	const cache = await caches.open(cacheName), there = await cache.match(base + name);
	if (there) return there;
	let reply = await fetch(base + name, { integrity: files[name], cache: "no-cache" });
	if (name === program) reply = new Response(reply.body.pipeThrough(new DecompressionStream("gzip")), { headers: { "Content-Type": "application/wasm" } });
	await cache.put(base + name, reply);
	return cache.match(base + name);
}

addEventListener("install", (event) => event.waitUntil(Promise.all(Object.keys(files).map(kept))));
addEventListener("activate", (event) => event.waitUntil((async () => {
	for (const name of await caches.keys()) {
		if (name.startsWith(ours) && name !== cacheName) await caches.delete(name);
	}
})()));
addEventListener("message", (event) => { if (event.data === "take over") skipWaiting(); });

let opened;
const open = () => opened ??= new Promise((done, failed) => {
	const request = indexedDB.open("regear " + base, 1);
	request.onupgradeneeded = () => request.result.createObjectStore("texts");
	request.onsuccess = () => {
		request.result.onclose = () => { opened = undefined; };
		done(request.result);
	};
	request.onerror = () => {
		opened = undefined;
		failed(request.error);
	};
});

// texts begins a transaction, and makes a promise of what a use of it comes to once all is done.
async function texts(mode, use) {
	const all = (await open()).transaction("texts", mode, { durability: "strict" });
	return new Promise((done, failed) => {
		let outcome;
		use(all.objectStore("texts"), (value) => { outcome = value; });
		all.oncomplete = () => done(outcome);
		all.onabort = () => failed(all.error);
	});
}

const alike = (a, b) => a === null || b === null ? a === b : a.length === b.length && a.every((byte, i) => byte === b[i]);

let running; // the program, once it was asked for
const start = () => running ??= new Promise((ready, failed) => {
	// What the program finds here. A text is a Uint8Array.
	self.worker = {
		base, hostname: location.hostname, ready,
		read: (name) => texts("readonly", (all, returns) => { all.get(name).onsuccess = (e) => returns(e.target.result); }),
		history: () => texts("readonly", (all, returns) => {
			const heads = [];
			returns(heads);
			all.openCursor(IDBKeyRange.bound("history/", "history0")).onsuccess = (e) => {
				const at = e.target.result;
				if (!at) return;
				const end = at.value.indexOf(10);
				if (at.key.endsWith(".csv")) heads.push({ name: at.key, line: new TextDecoder().decode(at.value.subarray(0, Math.max(end, 0))), size: at.value.length });
				at.continue();
			};
		}),
		// write tells whether it wrote: not where the book among the texts is no longer what it was.
		write: (changed, was) => texts("readwrite", (all, returns) => {
			const put = () => {
				for (const [name, text] of changed) text === null ? all.delete(name) : all.put(text, name);
				returns(true);
			};
			if (!changed.some(([name]) => name === "book.csv")) return put();
			all.get("book.csv").onsuccess = (e) => alike(e.target.result ?? null, was) ? put() : returns(false);
		}),
	};
	(async () => {
		const go = new Go();
		const { instance } = await WebAssembly.instantiateStreaming(await kept(program), go.importObject);
		await go.run(instance);
		throw new Error("the program has ended");
	})().catch((error) => {
		running = undefined; // the next page starts it again
		failed(error);
		for (const fail of unanswered) fail(error);
	});
});

const unanswered = new Set(); // how to tell who waits for an answer that none comes
async function page(request) {
	const body = new Uint8Array(await request.arrayBuffer());
	const answer = await start();
	return new Promise((done, failed) => {
		unanswered.add(failed);
		answer({
			method: request.method, url: request.url, body, kind: request.headers.get("Content-Type") ?? "",
			// Where a browser tells a worker no origin, the page tells it that the form stood on.
			origin: request.headers.get("Origin") ?? (request.method === "GET" ? "" : request.referrer ? new URL(request.referrer).origin : "null"),
		}, (status, headers, text) => {
			unanswered.delete(failed);
			done(headers.Location ? Response.redirect(headers.Location, status) : new Response(text, { status, headers }));
		});
	});
}

addEventListener("fetch", (event) => {
	const url = new URL(event.request.url);
	if (url.origin !== location.origin || !url.pathname.startsWith(base)) return;
	const name = url.pathname.slice(base.length);
	if (name === "alive") event.respondWith(new Response()); // a page asks so that the program stays in memory
	else if (name === "index.html") event.respondWith(Response.redirect(base));
	else if (name in files && name !== program) event.respondWith(kept(name));
	else event.respondWith(page(event.request).catch((error) => new Response(
		`This page could not be made (${error}). The log book is as it was. Go back and try again; if that does not help, close this browser and open it again.`,
		{ status: 500, headers: { "Content-Type": "text/plain; charset=utf-8" } })));
});
