// The pages work without this script. With it, sliders stand beside number fields,
// the what-if answers while a finger still moves, and a second tap on "Save" is no
// second run.
"use strict";
(() => {
	const here = document.currentScript.src; // a web space may have the pages in a folder
	for (const slider of document.querySelectorAll("input[type=range][data-for]")) {
		const field = document.getElementById(slider.dataset.for);
		const follow = () => {
			const value = Number(field.value.replace(",", "."));
			if (!Number.isNaN(value) && field.value !== "") slider.value = value;
			slider.setAttribute("aria-valuetext", field.value + " " + (slider.dataset.unit || ""));
		};
		slider.hidden = false;
		slider.addEventListener("input", () => {
			field.value = slider.value;
			follow();
			field.dispatchEvent(new Event("input", { bubbles: true }));
		});
		field.addEventListener("input", follow);
		follow();
		// A finger is wider than a step.
		for (const [sign, by] of [["−", -1], ["+", 1]]) {
			const button = document.createElement("button");
			button.type = "button";
			button.className = "step";
			button.textContent = sign;
			button.setAttribute("aria-label", (by < 0 ? "Less: " : "More: ") + slider.getAttribute("aria-label"));
			button.addEventListener("click", () => {
				by < 0 ? slider.stepDown() : slider.stepUp();
				slider.dispatchEvent(new Event("input", { bubbles: true }));
			});
			by < 0 ? slider.before(button) : slider.after(button);
		}
		const row = document.createElement("div"), [less, more] = [slider.previousElementSibling, slider.nextElementSibling];
		row.className = "sliding";
		field.before(row);
		row.append(field, less, slider, more);
		row.parentElement.classList.add("whole");
	}

	const form = document.querySelector("form[data-live]");
	if (form) {
		const pick = document.getElementById("pick");
		// What is read aloud when it changes has to stay the same element.
		const show = (page) => {
			const wrong = page.querySelector("main > .note.wrong");
			for (const id of form.dataset.live.split(" ")) {
				const from = page.getElementById(id), to = document.getElementById(id);
				to.replaceChildren(...(from ? from.childNodes : []));
			}
			if (wrong) pick.replaceChildren(wrong);
			for (const from of page.querySelectorAll("form[data-live] [aria-describedby]")) {
				const field = document.getElementById(from.id), says = from.id + "-says";
				if (!field) continue;
				field.ariaInvalid = from.ariaInvalid;
				document.getElementById(says).replaceChildren(...page.getElementById(says).childNodes);
			}
			pick.classList.remove("busy");
		};
		let waiting, latest = 0;
		const answer = async () => {
			const mine = ++latest;
			const url = form.getAttribute("action") + "?" + new URLSearchParams(new FormData(form));
			let text;
			try {
				const reply = await fetch(url, { headers: { Accept: "text/html" } });
				text = await reply.text();
			} catch {
				return; // out of reach: the old answer stays dim, and the button says why
			}
			if (mine !== latest) return; // an answer to an older question
			const page = new DOMParser().parseFromString(text, "text/html");
			show(page);
			history.replaceState(null, "", url);
		};
		form.addEventListener("input", (event) => {
			if (event.target.type === "range") return; // its field tells
			pick.classList.add("busy"); // until it answers what the fields say
			clearTimeout(waiting);
			waiting = setTimeout(answer, 150);
		});
	}

	// A number key pad has no sign.
	for (const field of document.querySelectorAll("input[data-sign]")) {
		const button = document.createElement("button"), row = document.createElement("div");
		button.type = "button";
		button.className = "step";
		button.textContent = "±";
		button.setAttribute("aria-label", "Below or above zero: " + field.labels[0].textContent);
		button.addEventListener("click", () => {
			field.value = field.value.startsWith("-") ? field.value.slice(1) : "-" + field.value;
			field.focus();
		});
		row.className = "signed";
		field.before(row);
		row.append(field, button);
	}

	// On a phone, the key for the next field leads there, and "other" to its field.
	const isTouched = matchMedia("(pointer: coarse)").matches;
	for (const form of document.querySelectorAll("form.typed")) {
		const fields = [...form.querySelectorAll("input:not([type])")];
		for (const field of fields) field.enterKeyHint = "next";
		form.addEventListener("submit", (event) => {
			if (!isTouched || !event.submitter?.matches(".enter")) return;
			event.preventDefault();
			event.stopImmediatePropagation();
			const at = fields.indexOf(document.activeElement);
			const next = fields.slice(at + 1).find((other) => other.offsetParent);
			next ? next.focus() : document.activeElement.blur();
		});
		for (const other of form.querySelectorAll(".other input")) {
			other.addEventListener("change", () => other.closest(".choice").querySelector(":scope > input").focus());
		}
		// What was chosen needs no more typing.
		for (const choice of form.querySelectorAll(".choice .chip:not(.other) input")) {
			choice.addEventListener("change", () => fields.find((field) => field.offsetParent && !field.value)?.focus());
		}
	}

	// Out of reach, a form waits until the page answers. Nothing typed is lost, and a form that
	// arrives twice is saved once.
	const isReached = async () => {
		const patience = 5_000, reply = await fetch(new URL("icon.svg", here), { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(patience) }).catch(() => null);
		return reply !== null && reply.ok;
	};
	const waitFor = async (posted) => {
		const note = document.createElement("div"), told = document.createElement("p"), now = document.createElement("button");
		note.className = "note wrong";
		note.setAttribute("role", "alert");
		told.textContent = "Out of reach: nothing is saved yet. What you typed stays here, and is sent as soon as the page answers.";
		now.type = "button";
		now.textContent = "Try now";
		note.append(told, now);
		posted.querySelector("button.main, button")?.before(note);
		note.scrollIntoView({ block: "nearest" });
		const pause = 3_000;
		do {
			await new Promise((again) => {
				setTimeout(again, pause);
				now.onclick = again;
				addEventListener("online", again, { once: true });
			});
		} while (!await isReached());
		note.remove();
	};
	for (const posted of document.querySelectorAll("form[method=post]")) {
		posted.addEventListener("submit", async (event) => {
			if (posted.dataset.sent) {
				if (posted.dataset.sent !== "reached") event.preventDefault();
				return;
			}
			posted.dataset.sent = "yes";
			posted.classList.add("busy");
			if (posted.dataset.progress !== undefined) return; // tells by itself
			event.preventDefault();
			const by = event.submitter;
			if (!await isReached()) await waitFor(posted);
			posted.dataset.sent = "reached";
			posted.requestSubmit(by);
			posted.dataset.sent = "yes";
		});
	}
	// Files take a while from the edge of a field: say how much has arrived.
	const upload = document.querySelector("form[data-progress]");
	if (upload) {
		upload.addEventListener("submit", (event) => {
			const body = new FormData(upload, event.submitter);
			const size = body.getAll("files").reduce((sum, file) => sum + file.size, 0);
			const worthTelling = 200_000; // bytes
			if (event.defaultPrevented || size < worthTelling) return;
			event.preventDefault();
			const state = document.getElementById("arriving"), bar = state.querySelector("progress");
			const request = new XMLHttpRequest();
			request.open("POST", upload.getAttribute("action"));
			request.upload.addEventListener("progress", (step) => { bar.value = step.loaded / step.total; });
			request.upload.addEventListener("load", () => {
				bar.removeAttribute("value");
				state.querySelector("span").textContent = "Reading";
			});
			const over = () => {
				delete upload.dataset.sent;
				upload.classList.remove("busy");
				state.hidden = true;
			};
			request.addEventListener("error", () => {
				over();
				document.getElementById("broke-off").hidden = false;
			});
			request.addEventListener("load", () => {
				const page = new DOMParser().parseFromString(request.responseText, "text/html");
				document.title = page.title;
				document.getElementById("main").replaceWith(document.adoptNode(page.getElementById("main")));
				document.getElementById("main").focus();
			});
			state.hidden = false;
			request.send(body);
		});
	}
	// A page that the browser kept comes back as it was left.
	addEventListener("pageshow", () => {
		for (const posted of document.querySelectorAll("form[data-sent]")) {
			delete posted.dataset.sent;
			posted.classList.remove("busy");
		}
	});
})();
