// Reads the bytes of a 3D view; desk/view.go has the table of them.

const UP = 1, PLATFORM = 2, SUPPORT = 4, COLOURS = 8, COARSER = 16;

// read returns what the bytes hold, or throws where they are no view.
export function read(buffer) {
	const data = new DataView(buffer);
	let at = 0;
	const u8 = () => data.getUint8(at++);
	const u16 = () => ((at += 2), data.getUint16(at - 2, true));
	const u32 = () => ((at += 4), data.getUint32(at - 4, true));
	const f32 = () => ((at += 4), data.getFloat32(at - 4, true));
	const text = (n) => ((at += n), new TextDecoder().decode(new Uint8Array(buffer, at - n, n)));

	if (text(4) !== "DVW1") throw new Error("no 3D view");
	const has = u8(), colours = u8(), marks = u16();
	const view = { coarser: (has & COARSER) !== 0, up: null, platform: null, colours: [], support: null, marks: [] };
	if (has & UP) view.up = [f32(), f32(), f32()];
	if (has & PLATFORM) view.platform = [f32(), f32()];
	for (let i = 0; i < colours; i++) view.colours.push([u8(), u8(), u8()]);

	const surface = (coloured, hatched) => {
		const nv = u32(), nf = u32();
		const least = [f32(), f32(), f32()], step = f32();
		// slice, as typed arrays want their own alignment
		const q = new Uint16Array(buffer.slice(at, (at += nv * 6)));
		const facets = new Uint32Array(buffer.slice(at, (at += nf * 12)));
		const points = new Float32Array(nv * 3);
		for (let i = 0; i < points.length; i++) points[i] = least[i % 3] + step * q[i];
		const s = { points, facets, count: nf, colour: null, hatch: null };
		if (coloured) s.colour = new Uint8Array(buffer.slice(at, (at += nf)));
		if (hatched) {
			const packed = new Uint8Array(buffer, at, Math.ceil(nf / 4));
			at += packed.length;
			s.hatch = new Uint8Array(nf);
			for (let i = 0; i < nf; i++) s.hatch[i] = (packed[i >> 2] >> ((i & 3) * 2)) & 3;
		}
		return s;
	};
	view.part = surface((has & COLOURS) !== 0, true);
	if (has & SUPPORT) view.support = surface(false, false);
	for (let i = 0; i < marks; i++) {
		const place = [f32(), f32(), f32()];
		const number = u16(), severity = ["note", "ask", "stop"][u8()];
		view.marks.push({ at: place, number, severity, label: text(u16()) });
	}
	return view;
}

// normals returns, for every corner of every facet, the direction it is lit
// from: the mean of the facets around its vertex that bend less than a fold.
export function normals({ points: p, facets: f, count }) {
	const flat = new Float32Array(count * 3), start = new Uint32Array(p.length / 3 + 1);
	for (let i = 0; i < count; i++) {
		const a = f[3 * i] * 3, b = f[3 * i + 1] * 3, c = f[3 * i + 2] * 3;
		const ux = p[b] - p[a], uy = p[b + 1] - p[a + 1], uz = p[b + 2] - p[a + 2];
		const vx = p[c] - p[a], vy = p[c + 1] - p[a + 1], vz = p[c + 2] - p[a + 2];
		flat[3 * i] = uy * vz - uz * vy; // twice the area long: larger facets count more
		flat[3 * i + 1] = uz * vx - ux * vz;
		flat[3 * i + 2] = ux * vy - uy * vx;
		for (let k = 0; k < 3; k++) start[f[3 * i + k] + 1]++;
	}
	for (let v = 1; v < start.length; v++) start[v] += start[v - 1];
	const around = new Uint32Array(count * 3), fill = start.slice();
	for (let i = 0; i < 3 * count; i++) around[fill[f[i]]++] = Math.floor(i / 3);

	const out = new Float32Array(count * 9), fold = Math.cos((38 * Math.PI) / 180);
	for (let i = 0; i < count; i++) {
		const nx = flat[3 * i], ny = flat[3 * i + 1], nz = flat[3 * i + 2], n = Math.hypot(nx, ny, nz) || 1;
		for (let k = 0; k < 3; k++) {
			const v = f[3 * i + k];
			let x = 0, y = 0, z = 0;
			for (let j = start[v]; j < start[v + 1]; j++) {
				const g = 3 * around[j], m = Math.hypot(flat[g], flat[g + 1], flat[g + 2]) || 1;
				if (nx * flat[g] + ny * flat[g + 1] + nz * flat[g + 2] < fold * n * m) continue;
				x += flat[g];
				y += flat[g + 1];
				z += flat[g + 2];
			}
			const l = Math.hypot(x, y, z);
			const at = 9 * i + 3 * k;
			out[at] = l ? x / l : nx / n;
			out[at + 1] = l ? y / l : ny / n;
			out[at + 2] = l ? z / l : nz / n;
		}
	}
	return { corners: out, flat };
}

// folds returns the line segments where two facets fold sharply or the surface
// ends: what is inked.
export function folds({ points: p, facets: f, count }, flat) {
	const size = 1 << Math.ceil(Math.log2(count * 4 + 16)), mask = size - 1;
	const lo = new Int32Array(size).fill(-1), hi = new Int32Array(size), first = new Int32Array(size), lines = [];
	const sharp = Math.cos((32 * Math.PI) / 180);
	const add = (a, b) => lines.push(p[3 * a], p[3 * a + 1], p[3 * a + 2], p[3 * b], p[3 * b + 1], p[3 * b + 2]);
	for (let i = 0; i < count; i++) {
		for (let k = 0; k < 3; k++) {
			const u = f[3 * i + k], v = f[3 * i + ((k + 1) % 3)], a = Math.min(u, v), b = Math.max(u, v);
			let h = (Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca6b)) & mask;
			while (lo[h] !== -1 && (lo[h] !== a || hi[h] !== b)) h = (h + 1) & mask;
			if (lo[h] === -1) {
				lo[h] = a;
				hi[h] = b;
				first[h] = i;
				continue;
			}
			if (first[h] < 0) continue; // a third facet at one edge
			const g = 3 * first[h], e = 3 * i;
			const dot = flat[g] * flat[e] + flat[g + 1] * flat[e + 1] + flat[g + 2] * flat[e + 2];
			if (dot < sharp * Math.hypot(flat[g], flat[g + 1], flat[g + 2]) * Math.hypot(flat[e], flat[e + 1], flat[e + 2])) add(a, b);
			first[h] = -1;
		}
	}
	for (let h = 0; h < size; h++) if (lo[h] !== -1 && first[h] >= 0) add(lo[h], hi[h]);
	return new Float32Array(lines);
}

// volume is what the facets enclose, mm³; for tests.
export function volume({ points: p, facets: f, count }) {
	let v = 0;
	for (let i = 0; i < count; i++) {
		const a = f[3 * i] * 3, b = f[3 * i + 1] * 3, c = f[3 * i + 2] * 3;
		v += p[a] * (p[b + 1] * p[c + 2] - p[b + 2] * p[c + 1]) + p[a + 1] * (p[b + 2] * p[c] - p[b] * p[c + 2]) + p[a + 2] * (p[b] * p[c + 1] - p[b + 1] * p[c]);
	}
	return v / 6;
}
