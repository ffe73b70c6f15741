// The 3D view: takes the place of the still picture once everything is there,
// and gives it back if the browser cannot draw.
//
// Nothing needs dragging: keys and buttons turn and zoom, and the list of
// findings turns the part to each. Numbers over the drawing repeat the list.
import { OrthographicCamera, Vector3, WebGLRenderer } from "three";
import { read } from "./mesh.js";
import { facing, paint } from "./paint.js";

const still = matchMedia("(prefers-reduced-motion: reduce)");
const usual = { azimuth: 30, elevation: 35, zoom: 1 };
// What is said until the page gives its own words, as patrons' pages do.
const english = {
	load: "Load the 3D view",
	loading: "Loading the 3D view",
	part: "The part",
	view: "3D view",
	keys: "Arrow keys turn it, plus and minus zoom, Home goes back to the start.",
	stop: "stops the print",
	ask: "to be asked about",
	note: "good to know",
	place: "Place of the finding",
	turnTo: " ({severity}): turn to it",
	between: "; ",
	up: "Where up is in the file",
	controls: "Turn and zoom",
	left: "Turn left",
	right: "Turn right",
	higher: "Look from higher",
	lower: "Look from lower",
	nearer: "Nearer",
	further: "Further",
	start: "Start",
	startView: "Start view",
	leaning: "leaning lines: overhanging",
	crossed: "crossed lines: thin",
	level: "level lines: see the findings",
	veil: "green veil: supports",
	arrow: "arrow: up in the file",
	coarser: "shown a little coarser than it is",
	squares: "squares of {step} mm",
};
const wordsOf = (root) => ({ ...english, ...JSON.parse(root.dataset.words || "{}") });

// show starts the view in an element, when it comes near the window.
export function show(root) {
	if (root.dataset.ready) return;
	root.dataset.ready = "no";
	if (navigator.connection?.saveData) {
		const b = make("button", { type: "button", className: "second", textContent: wordsOf(root).load });
		root.append(b);
		b.addEventListener("click", () => (b.remove(), load(root)), { once: true });
		return;
	}
	new IntersectionObserver((seen, observer) => {
		if (!seen.some((s) => s.isIntersecting)) return;
		observer.disconnect();
		load(root);
	}, { rootMargin: "300px" }).observe(root);
}

async function load(root) {
	const wait = make("p", { className: "key working", textContent: wordsOf(root).loading });
	root.append(wait);
	try {
		const answer = await fetch(root.dataset.mesh);
		if (!answer.ok) throw new Error(`answered ${answer.status}`);
		const view = read(await answer.arrayBuffer());
		if (view.part.count > 0) new View(root, view);
	} catch {
		// The picture says what there is to say; a browser without WebGL is no fault.
		root.dataset.ready = "failed";
	}
	wait.remove();
}

class View {
	constructor(root, view) {
		this.root = root;
		this.view = view;
		this.words = wordsOf(root);
		this.labels = JSON.parse(root.dataset.labels || "{}");
		this.picture = root.querySelector("img");
		this.canvas = make("canvas", { tabIndex: 0 });
		this.renderer = new WebGLRenderer({ canvas: this.canvas, antialias: true, alpha: true });
		this.renderer.outputColorSpace = "srgb";
		Object.assign(this, paint(view));
		this.camera = new OrthographicCamera();
		this.camera.matrixAutoUpdate = false;
		this.stage = make("div", { className: "stage" });
		this.stage.append(this.canvas);
		this.home();
		this.label();
		this.pins();
		this.controls();
		this.pointer();
		this.picture?.replaceWith(this.stage);
		if (!this.picture) this.root.prepend(this.stage);
		this.watch = new ResizeObserver(() => this.draw());
		this.watch.observe(this.stage);
		this.canvas.addEventListener("webglcontextlost", (e) => (e.preventDefault(), this.give()));
		root.dataset.ready = "yes";
		this.draw();
	}

	label() {
		const about = this.picture?.alt || this.words.part;
		this.canvas.setAttribute("role", "application");
		this.canvas.setAttribute("aria-roledescription", this.words.view);
		this.canvas.setAttribute("aria-label", `${about} ${this.words.keys}`);
		this.canvas.addEventListener("keydown", (e) => {
			if (e.ctrlKey || e.metaKey || e.altKey) return;
			const act = {
				ArrowLeft: () => this.turn(-15, 0), ArrowRight: () => this.turn(15, 0), ArrowUp: () => this.turn(0, 15), ArrowDown: () => this.turn(0, -15),
				"+": () => this.nearer(1.25), "=": () => this.nearer(1.25), "-": () => this.nearer(0.8), "−": () => this.nearer(0.8), Home: () => (this.home(), this.draw()),
			}[e.key];
			if (!act) return;
			e.preventDefault();
			act();
		});
	}

	home() {
		cancelAnimationFrame(this.frame);
		Object.assign(this, usual);
		this.target = this.middle.clone();
		this.press(null);
	}

	turn(azimuth, elevation) {
		cancelAnimationFrame(this.frame); // who turns goes on from where it is
		this.azimuth += azimuth;
		this.elevation = Math.min(90, Math.max(-90, this.elevation + elevation));
		this.draw();
	}

	nearer(by) {
		cancelAnimationFrame(this.frame);
		this.zoom = Math.min(20, Math.max(0.4, this.zoom * by));
		if (this.zoom < 1) this.target.copy(this.middle);
		this.draw();
	}

	// glide goes to a view by itself, at once where motion is not wanted.
	glide(azimuth, elevation, zoom, target) {
		const from = { azimuth: this.azimuth, elevation: this.elevation, zoom: this.zoom, target: this.target.clone() };
		const way = ((((azimuth - from.azimuth) % 360) + 540) % 360) - 180, began = performance.now();
		cancelAnimationFrame(this.frame);
		const step = (now) => {
			const x = still.matches ? 1 : Math.min(1, (now - began) / 450), t = x * x * (3 - 2 * x);
			this.azimuth = from.azimuth + way * t;
			this.elevation = from.elevation + (elevation - from.elevation) * t;
			this.zoom = from.zoom + (zoom - from.zoom) * t;
			this.target.lerpVectors(from.target, target, t);
			this.draw();
			if (x < 1) this.frame = requestAnimationFrame(step);
		};
		step(began);
	}

	lookAt(mark) {
		const { n: [x, y, z], off } = facing(this.view, this.flat, mark.at);
		if (off > 0.05 * this.radius) { // within the part: no side of it is its own
			this.glide(this.azimuth, usual.elevation, 1.2, new Vector3(...mark.at).lerp(this.middle, 0.5));
			return this.press(mark);
		}
		const flatways = Math.hypot(x, y) < 0.05;
		const azimuth = flatways ? this.azimuth : (Math.atan2(x, -y) * 180) / Math.PI;
		const elevation = Math.min(75, Math.max(-75, (Math.asin(z) * 180) / Math.PI));
		this.glide(azimuth, elevation, 1.5, new Vector3(...mark.at).lerp(this.middle, 0.3));
		this.press(mark);
	}

	press(mark) {
		for (const m of this.view.marks) m.button?.setAttribute("aria-pressed", String(m === mark));
	}

	pins() {
		this.tags = [];
		const list = make("ol", { className: "marks" });
		// Places of one finding share its number and its line.
		const seen = new Map();
		for (const m of this.view.marks) {
			const pin = make("span", { className: "mark pin", textContent: m.number });
			pin.dataset.severity = m.severity;
			pin.setAttribute("aria-hidden", "true");
			this.stage.append(pin);
			const { n, off } = facing(this.view, this.flat, m.at);
			this.tags.push({ pin, at: new Vector3(...m.at), n: off > 0.05 * this.radius ? new Vector3() : new Vector3(...n) });
			if (seen.has(m.number)) continue;
			seen.set(m.number, m);
			const badge = make("span", { className: "mark", textContent: m.number });
			badge.dataset.severity = m.severity;
			const line = make("span", { textContent: this.labels[m.number] || m.label || this.words.place });
			line.append(make("span", { className: "unseen", textContent: this.words.turnTo.replace("{severity}", this.words[m.severity]) }));
			m.button = make("button", { type: "button" });
			m.button.append(badge, line);
			m.button.setAttribute("aria-pressed", "false");
			m.button.addEventListener("click", () => this.lookAt(m));
			const item = make("li");
			item.append(m.button);
			list.append(item);
		}
		if (this.view.up) this.arrow();
		this.list = seen.size > 0 ? list : null;
	}

	// arrow points where the file's own up is.
	arrow() {
		const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
		svg.setAttribute("viewBox", "-24 -24 48 48");
		svg.setAttribute("class", "up");
		svg.setAttribute("role", "img");
		svg.setAttribute("aria-label", this.words.up);
		this.up = document.createElementNS("http://www.w3.org/2000/svg", "path");
		svg.append(this.up);
		this.stage.append(svg);
	}

	controls() {
		const bar = make("div", { className: "turns" }), say = this.words;
		bar.setAttribute("role", "group");
		bar.setAttribute("aria-label", say.controls);
		const add = (sign, name, act) => {
			const b = make("button", { type: "button", textContent: sign, title: name });
			b.setAttribute("aria-label", name);
			b.addEventListener("click", act);
			bar.append(b);
		};
		add("←", say.left, () => this.turn(-30, 0));
		add("→", say.right, () => this.turn(30, 0));
		add("↑", say.higher, () => this.turn(0, 30));
		add("↓", say.lower, () => this.turn(0, -30));
		add("+", say.nearer, () => this.nearer(1.4));
		add("−", say.further, () => this.nearer(1 / 1.4));
		add(say.start, say.startView, () => this.glide(usual.azimuth, usual.elevation, usual.zoom, this.middle.clone()));
		this.scale = make("p", { className: "scale" });
		this.bar = make("span", { className: "bar" });
		this.bar.setAttribute("aria-hidden", "true");
		this.length = make("span");
		this.scale.append(this.bar, this.length);
		bar.append(this.scale);
		this.root.append(bar);
		const kinds = new Set(this.view.part.hatch), key = [];
		if (kinds.has(1)) key.push(say.leaning);
		if (kinds.has(2)) key.push(say.crossed);
		if (kinds.has(3)) key.push(say.level);
		if (this.view.support) key.push(say.veil);
		if (this.view.up) key.push(say.arrow);
		if (this.view.coarser) key.push(say.coarser);
		if (key.length > 0) this.root.append(make("p", { className: "key", textContent: capital(key.join(say.between)) + "." }));
		if (this.list) this.root.append(this.list);
	}

	pointer() {
		const at = new Map();
		let apart = 0;
		this.canvas.addEventListener("pointerdown", (e) => {
			at.set(e.pointerId, e);
			apart = 0;
			this.canvas.setPointerCapture(e.pointerId);
		});
		this.canvas.addEventListener("pointermove", (e) => {
			const before = at.get(e.pointerId);
			if (!before) return;
			at.set(e.pointerId, e);
			if (at.size === 1) return this.turn((before.clientX - e.clientX) * 0.5, (e.clientY - before.clientY) * 0.5);
			const [a, b] = [...at.values()], now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
			if (apart > 0 && now > 0) this.nearer(now / apart);
			apart = now;
		});
		const end = (e) => (at.delete(e.pointerId), (apart = 0));
		this.canvas.addEventListener("pointerup", end);
		this.canvas.addEventListener("pointercancel", end);
		// The wheel scrolls the page, unless one works in the view.
		this.canvas.addEventListener("wheel", (e) => {
			if (document.activeElement !== this.canvas) return;
			e.preventDefault();
			this.nearer(Math.exp(-e.deltaY / 500));
		}, { passive: false });
	}

	draw() {
		if (!this.stage.isConnected) return this.end();
		const w = this.stage.clientWidth, h = this.stage.clientHeight;
		if (w === 0 || h === 0) return;
		const dense = Math.min(devicePixelRatio || 1, 2);
		this.renderer.setPixelRatio(dense);
		this.renderer.setSize(w, h, false);
		this.dots.value = dense;
		const a = (this.azimuth * Math.PI) / 180, e = (this.elevation * Math.PI) / 180;
		const right = new Vector3(Math.cos(a), Math.sin(a), 0);
		const up = new Vector3(-Math.sin(a) * Math.sin(e), Math.cos(a) * Math.sin(e), Math.cos(e));
		const eye = new Vector3(Math.sin(a) * Math.cos(e), -Math.cos(a) * Math.cos(e), Math.sin(e));
		const far = this.radius * 4 + Math.max(...(this.view.platform || [0])) * 2;
		this.perMM = ((Math.min(w, h) * 0.43) / this.radius) * this.zoom;
		Object.assign(this.camera, { left: -w / 2 / this.perMM, right: w / 2 / this.perMM, top: h / 2 / this.perMM, bottom: -h / 2 / this.perMM, near: 0, far: far * 2 });
		this.camera.updateProjectionMatrix();
		this.camera.matrix.makeBasis(right, up, eye).setPosition(this.target.clone().addScaledVector(eye, far));
		this.camera.matrixWorldNeedsUpdate = true;
		// Towards the eye by a hair, so that neither part nor platform eats the ink.
		this.inked?.position.copy(eye).multiplyScalar(this.radius * 0.004);
		for (const g of this.ground) g.visible = eye.z > 0.03;
		this.renderer.render(this.scene, this.camera);
		for (const { pin, at, n } of this.tags) {
			const d = at.clone().sub(this.target);
			pin.style.transform = `translate(${w / 2 + d.dot(right) * this.perMM}px, ${h / 2 - d.dot(up) * this.perMM}px) translate(-50%, -50%)`;
			pin.classList.toggle("behind", n.dot(eye) < -0.05);
		}
		if (this.up) {
			const u = new Vector3(...this.view.up).normalize(), x = u.dot(right), y = -u.dot(up), l = Math.hypot(x, y);
			this.up.setAttribute("d", l > 0.2
				? `M${-14 * x} ${-14 * y}L${14 * x} ${14 * y}M${14 * x - 7 * (x + y * 0.7)} ${14 * y - 7 * (y - x * 0.7)}L${14 * x} ${14 * y}L${14 * x - 7 * (x - y * 0.7)} ${14 * y - 7 * (y + x * 0.7)}`
				: u.dot(eye) > 0 ? "M-9 0A9 9 0 1 0 9 0A9 9 0 1 0-9 0M-1 0A1 1 0 1 0 1 0A1 1 0 1 0-1 0" : "M-9 0A9 9 0 1 0 9 0A9 9 0 1 0-9 0M-6-6L6 6M6-6L-6 6");
		}
		this.rule(w);
	}

	// rule draws the scale bar: true along every direction across the sight.
	rule(w) {
		let long = 0.001;
		for (const b of [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]) if (b * this.perMM <= Math.min(w * 0.22, 130)) long = b;
		this.bar.style.width = `${long * this.perMM}px`;
		const squares = this.ground.length > 0 && this.elevation > 2 ? `, ${this.words.squares.replace("{step}", this.ground.step)}` : "";
		this.length.textContent = `${long} mm${squares}`;
	}

	// give puts the still picture back.
	give() {
		if (this.picture) this.stage.replaceWith(this.picture);
		for (const e of this.root.querySelectorAll(".turns, .marks, .key")) e.remove();
		this.root.dataset.ready = "failed";
		this.end();
	}

	end() {
		this.watch?.disconnect();
		cancelAnimationFrame(this.frame);
		this.scene.traverse((o) => (o.geometry?.dispose(), o.material?.dispose()));
		this.renderer.dispose();
	}
}

function make(name, props = {}) {
	return Object.assign(document.createElement(name), props);
}

const capital = (s) => s[0].toUpperCase() + s.slice(1);
