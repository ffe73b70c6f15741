package picture

import "math"

// The wash: what lies behind its surroundings is darkened, as a brush settles
// in the hollows. It is the difference between the blurred depth and the
// depth (Luft, Colditz and Deussen 2006, "Image enhancement by unsharp masking
// the depth buffer", MEMORY), here over the part alone, so that it leaves no
// halo on the paper. The blur is two passes of a box: sums, no kernel.
//
// Rejected: rays towards a hemisphere, which need many per pixel or a blur
// against their noise.

// wash returns for each pixel how much to darken it, 0 to 255.
func wash(b *buffer, s, w, h, workers int) []uint8 {
	depth := make([]float32, w*h) // nearest of the pixel's samples
	sum := make([]float32, w*h)
	each(h, workers, func(y int) {
		for x := range w {
			z := float32(math.Inf(-1))
			for j := range s {
				for _, d := range b.depth[(y*s+j)*b.w+x*s:][:s] {
					z = max(z, d)
				}
			}
			depth[y*w+x] = z
		}
	})
	out := make([]uint8, w*h)
	// A narrow blur finds creases, a wide one hollows.
	for _, pass := range []struct{ radius, reach, most float32 }{
		{float32(w+h) / 300, 7, 80},
		{float32(w+h) / 55, 26, 110},
	} {
		blur(depth, sum, w, h, max(int(pass.radius), 1), workers)
		scale := pass.most / (float32(s) * pass.reach * float32(w+h) / 2100)
		each(h, workers, func(y int) {
			for i := y * w; i < (y+1)*w; i++ {
				if d := sum[i] - depth[i]; depth[i] > float32(math.Inf(-1)) && d > 0 {
					out[i] = uint8(min(float32(out[i])+min(d*scale, pass.most), 255))
				}
			}
		})
	}
	return out
}

// blur puts into out the mean of the finite depths within a square of the
// given radius.
func blur(in, out []float32, w, h, radius, workers int) {
	sum, n := make([]float32, w*h), make([]uint16, w*h)
	none := float32(math.Inf(-1))
	each(h, workers, func(y int) {
		var s float64
		var k uint16
		line := in[y*w : (y+1)*w]
		add := func(x int, sign float64) {
			if x >= 0 && x < w && line[x] > none {
				s += sign * float64(line[x])
				k += uint16(int(sign))
			}
		}
		for x := range radius {
			add(x, 1)
		}
		for x := range w {
			add(x+radius, 1)
			add(x-radius-1, -1)
			sum[y*w+x], n[y*w+x] = float32(s), k
		}
	})
	const stripe = 64
	each((w+stripe-1)/stripe, workers, func(i int) {
		from, to := i*stripe, min((i+1)*stripe, w)
		var s [stripe]float64
		var k [stripe]int
		add := func(y int, sign float64) {
			if y < 0 || y >= h {
				return
			}
			for x := from; x < to; x++ {
				s[x-from] += sign * float64(sum[y*w+x])
				k[x-from] += int(sign) * int(n[y*w+x])
			}
		}
		for y := range radius {
			add(y, 1)
		}
		for y := range h {
			add(y+radius, 1)
			add(y-radius-1, -1)
			for x := from; x < to; x++ {
				if k[x-from] > 0 {
					out[y*w+x] = float32(s[x-from] / float64(k[x-from]))
				} else {
					out[y*w+x] = none
				}
			}
		}
	})
}
