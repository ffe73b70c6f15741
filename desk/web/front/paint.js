// What is drawn of a 3D view, in the same paper, ink and clay as the pictures:
// the part with ink at its folds and hatching where a finding points, supports
// as a veil, and the platform with a grid.
import {
	BufferAttribute, BufferGeometry, Color, DoubleSide, FrontSide, LineBasicMaterial, LineSegments, Mesh, MeshBasicMaterial,
	PlaneGeometry, Scene, ShaderMaterial, Triangle, Vector3,
} from "three";
import { folds, normals } from "./mesh.js";

const ink = "#2a2624", sheet = "#fbf8f0", faint = "#b9b0a2", petrol = "#147a6c";
const clay = [0xc9, 0xb0, 0x98];

const vertex = `
attribute vec3 tone;
attribute float hatch;
varying vec3 n;
varying vec3 base;
varying float kind;
varying float high;
void main() {
	n = normalMatrix * normal;
	base = tone;
	kind = hatch;
	high = normal.z;
	gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;

// The light stands above the left shoulder; colours run from shade over the
// base to glow. Hatching is counted in pixels of the screen.
const fragment = `
precision highp float;
uniform float dot_; // pixels of the screen to one of the page
varying vec3 n;
varying vec3 base;
varying float kind;
varying float high;
const vec3 ink = vec3(0.165, 0.149, 0.141);
const vec3 shade = vec3(0.29, 0.243, 0.227);
const vec3 glow = vec3(1.0, 0.984, 0.949);
const vec3 within = vec3(0.541, 0.478, 0.431);
float line(float at, float period) {
	float d = abs(mod(at, period) - period * 0.5);
	return 1.0 - smoothstep(0.55 * dot_, 1.15 * dot_, d);
}
void main() {
	vec3 m = normalize(n);
	vec3 c = base;
	if (!gl_FrontFacing) { m = -m; c = within; }
	float t = 0.74 * (0.5 + 0.5 * dot(m, normalize(vec3(-0.48, 0.62, 0.62)))) + 0.26 * (0.5 + 0.5 * high);
	vec3 dark = mix(c, shade, 0.695), lit = mix(c, glow, 0.453);
	c = t < 0.588 ? mix(dark, c, t / 0.588) : mix(c, lit, (t - 0.588) / 0.412);
	c = mix(c, ink, 0.6 * smoothstep(0.22, 0.02, abs(m.z)));
	float x = gl_FragCoord.x, y = gl_FragCoord.y, p = 9.0 * dot_, h = 0.0;
	int k = int(kind + 0.5);
	if (k == 1) h = line((x - y) * 0.7071, p * 0.7071);
	if (k == 2) h = max(line((x - y) * 0.7071, p * 0.8839), line((x + y) * 0.7071, p * 0.8839));
	if (k == 3) h = line(y, p * 0.75);
	if (k > 0) c = mix(c, ink, max(0.8 * h, 0.06));
	gl_FragColor = vec4(c, 1.0);
}`;

const veilFragment = `
precision highp float;
uniform float dot_;
uniform vec3 tint;
varying vec3 n;
void main() {
	float d = abs(mod(gl_FragCoord.x, 9.0 * dot_) - 4.5 * dot_);
	float h = 1.0 - smoothstep(0.5 * dot_, 1.0 * dot_, d);
	float rim = smoothstep(0.5, 0.1, abs(normalize(n).z));
	gl_FragColor = vec4(tint, max(0.65 * h, max(0.14, 0.5 * rim)));
}`;

// mute brings a colour towards the clay, as the pictures do.
const mute = (c) => c.map((x, i) => (58 + ((x * 200 + clay[i] * 56) / 256) * ((232 - 58) / 255)) / 255);

const plainClay = clay.map((x) => x / 255);

function spread(s, colours) {
	const g = new BufferGeometry(), n = s.count;
	const places = new Float32Array(n * 9), tone = new Float32Array(n * 9), hatch = new Float32Array(n * 3);
	const tones = colours.map(mute);
	for (let i = 0; i < n; i++) {
		const c = (s.colour && tones[s.colour[i]]) || plainClay;
		for (let k = 0; k < 3; k++) {
			const v = s.facets[3 * i + k] * 3, at = 9 * i + 3 * k;
			places.set(s.points.subarray(v, v + 3), at);
			tone.set(c, at);
			hatch[3 * i + k] = s.hatch ? s.hatch[i] : 0;
		}
	}
	const { corners, flat } = normals(s);
	g.setAttribute("position", new BufferAttribute(places, 3));
	g.setAttribute("normal", new BufferAttribute(corners, 3));
	g.setAttribute("tone", new BufferAttribute(tone, 3));
	g.setAttribute("hatch", new BufferAttribute(hatch, 1));
	g.computeBoundingBox();
	return { g, flat };
}

// paint makes a scene of a view. Its dots uniform is how many pixels of the
// screen one of the page is; ground is what is seen from above only.
export function paint(view) {
	const scene = new Scene(), dots = { value: 1 }, ground = [];
	const { g, flat } = spread(view.part, view.colours);
	const part = new Mesh(g, new ShaderMaterial({
		vertexShader: vertex, fragmentShader: fragment, uniforms: { dot_: dots }, side: DoubleSide,
		polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
	}));
	scene.add(part);
	let inked = null;
	if (view.part.count <= 150_000) {
		const lines = new BufferGeometry();
		lines.setAttribute("position", new BufferAttribute(folds(view.part, flat), 3));
		inked = new LineSegments(lines, new LineBasicMaterial({ color: ink }));
		scene.add(inked);
	}
	if (view.support) {
		const veil = new Mesh(spread(view.support, []).g, new ShaderMaterial({
			vertexShader: vertex, fragmentShader: veilFragment, uniforms: { dot_: dots, tint: { value: new Color(petrol).convertLinearToSRGB() } },
			side: FrontSide, transparent: true, depthWrite: false,
		}));
		veil.renderOrder = 1;
		scene.add(veil);
	}
	if (view.platform) {
		const [w, d] = view.platform;
		const plate = new Mesh(new PlaneGeometry(w, d), new MeshBasicMaterial({ color: new Color(sheet), polygonOffset: true, polygonOffsetFactor: 4, polygonOffsetUnits: 4 }));
		const inner = [], rim = [-w / 2, -d / 2, 0, w / 2, -d / 2, 0, w / 2, -d / 2, 0, w / 2, d / 2, 0, w / 2, d / 2, 0, -w / 2, d / 2, 0, -w / 2, d / 2, 0, -w / 2, -d / 2, 0];
		const step = Math.max(w, d) > 2000 ? 100 : 10;
		for (let x = 0; x < w / 2; x += step) for (const s of x ? [-x, x] : [0]) inner.push(s, -d / 2, 0, s, d / 2, 0);
		for (let y = 0; y < d / 2; y += step) for (const s of y ? [-y, y] : [0]) inner.push(-w / 2, s, 0, w / 2, s, 0);
		const lined = (at, color) => {
			const l = new BufferGeometry();
			l.setAttribute("position", new BufferAttribute(new Float32Array(at), 3));
			return new LineSegments(l, new LineBasicMaterial({ color }));
		};
		ground.push(plate, lined(inner, "#e3dccd"), lined(rim, faint));
		scene.add(...ground);
		ground.step = step;
	}
	const box = g.boundingBox, middle = new Vector3(), size = new Vector3();
	box.getCenter(middle);
	box.getSize(size);
	return { scene, part, inked, dots, ground, middle, radius: Math.max(size.length() / 2, 1e-3), flat };
}

// facing finds the surface nearest to a place: which way it looks there (n), and
// how far off it is (mm).
export function facing(view, flat, at) {
	const { points: p, facets: f, count } = view.part;
	let off = Infinity, n = [0, 0, 1];
	const tri = new Triangle(), to = new Vector3(...at), near = new Vector3();
	for (let i = 0; i < count; i++) {
		const l = Math.hypot(flat[3 * i], flat[3 * i + 1], flat[3 * i + 2]);
		if (l === 0) continue;
		tri.a.fromArray(p, f[3 * i] * 3);
		tri.b.fromArray(p, f[3 * i + 1] * 3);
		tri.c.fromArray(p, f[3 * i + 2] * 3);
		const d = tri.closestPointToPoint(to, near).distanceTo(to);
		if (d >= off) continue;
		off = d;
		n = [flat[3 * i] / l, flat[3 * i + 1] / l, flat[3 * i + 2] / l];
	}
	return { n, off };
}
