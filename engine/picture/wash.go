package picture

import (
	"math"
	"slices"
)

// The wash: what lies behind its surroundings is darkened, as a brush settles
// in the hollows. It is the difference between the blurred depth and the
// depth (Luft, Colditz and Deussen 2006, "Image enhancement by unsharp masking
// the depth buffer", MEMORY), here over the part alone, so that it leaves no
// halo on the paper. Around the part the depth is that of the ground, so that
// an edge against it is not taken for a hollow. The blur is a box, twice: sums,
// no kernel.
//
// Rejected: rays towards a hemisphere, which need many per pixel or a blur
// against their noise.

// wash returns for each pixel how much to darken it, 0 to 255, and fills
// nearest with the depth of the nearest of its samples, −Inf for none.
func wash(b *buffer, cam *camera, s, w, h, workers int) (dark []uint8, nearest []float32) {
	nearest = make([]float32, w*h)
	least := make([]float32, h)
	none := float32(math.Inf(-1))
	each(h, workers, func(_, y int) {
		least[y] = float32(math.Inf(1))
		for x := range w {
			z := none
			for j := range s {
				for _, d := range b.depth[(y*s+j)*b.w+x*s:][:s] {
					z = max(z, d)
				}
			}
			nearest[y*w+x] = z
			if z > none {
				least[y] = min(least[y], z)
			}
		}
	})
	floor := slices.Min(least)
	depth, mean, tmp := make([]float32, w*h), make([]float32, w*h), make([]float32, w*h)
	each(h, workers, func(_, y int) {
		for x := range w {
			i := y*w + x
			if depth[i] = nearest[i]; depth[i] > none {
				continue
			}
			depth[i] = floor
			if cam.above() {
				_, _, z := cam.ground((float64(x)+0.5)*float64(s), (float64(y)+0.5)*float64(s))
				depth[i] = max(floor, float32(z))
			}
		}
	})
	dark = make([]uint8, w*h)
	// A narrow blur finds creases, a wide one hollows.
	for _, pass := range []struct{ radius, reach, most float32 }{
		{float32(w+h) / 420, 6, 60},
		{float32(w+h) / 75, 24, 120},
	} {
		r := max(int(pass.radius), 1)
		blur(depth, mean, tmp, w, h, r, workers)
		blur(mean, mean, tmp, w, h, r, workers)
		scale := 1 / (float32(s) * pass.reach * float32(w+h) / 2100)
		each(h, workers, func(_, y int) {
			for i := y * w; i < (y+1)*w; i++ {
				if d := (mean[i] - depth[i]) * scale; nearest[i] > none && d > 0 {
					dark[i] = uint8(min(float32(dark[i])+float32(pass.most*d/(1+d)), 255))
				}
			}
		})
	}
	return dark, nearest
}

// blur puts into out the mean of in within a square of the given radius, as
// far as there is any. in and out may be the same.
func blur(in, out, tmp []float32, w, h, radius, workers int) {
	each(h, workers, func(_, y int) {
		line, to := in[y*w:(y+1)*w], tmp[y*w:(y+1)*w]
		var s float64
		for x := range min(radius, w) {
			s += float64(line[x])
		}
		for x := range w {
			if x+radius < w {
				s += float64(line[x+radius])
			}
			if x-radius-1 >= 0 {
				s -= float64(line[x-radius-1])
			}
			to[x] = float32(s / float64(min(x+radius, w-1)-max(x-radius, 0)+1))
		}
	})
	const stripe = 64
	each((w+stripe-1)/stripe, workers, func(_, i int) {
		from, to := i*stripe, min((i+1)*stripe, w)
		var s [stripe]float64
		for y := range min(radius, h) {
			for x, v := range tmp[y*w+from : y*w+to] {
				s[x] += float64(v)
			}
		}
		for y := range h {
			if y+radius < h {
				for x, v := range tmp[(y+radius)*w+from : (y+radius)*w+to] {
					s[x] += float64(v)
				}
			}
			if y-radius-1 >= 0 {
				for x, v := range tmp[(y-radius-1)*w+from : (y-radius-1)*w+to] {
					s[x] -= float64(v)
				}
			}
			n := float64(min(y+radius, h-1) - max(y-radius, 0) + 1)
			for x := range to - from {
				out[y*w+from+x] = float32(s[x] / n)
			}
		}
	})
}
