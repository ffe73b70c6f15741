package likeness

import "math"

// How a surface is spread over directions, at several distances.
//
// Notation: Y(l,m) real spherical harmonics scaled so that the sum over m of
// Y(l,m)(p)·Y(l,m)(q) is Legendre's P(l) of the angle between p and q; w(s) a
// hat over the distance from the centroid, one for each sphere s.
//
// Source: Kazhdan, Funkhouser and Rusinkiewicz 2003, "Rotation invariant
// spherical harmonic representation of 3D shape descriptors" (MEMORY): a turn
// mixes only the harmonics of one degree, so the length of the row of a degree
// does not depend on the turn. Here the function on each sphere is the area of
// the surface near it, summed over points; nothing is put on a grid.
//
// The length of degree l on sphere s lies between 0 and the share of the
// surface near that sphere. Degree 0 is left out: it is that share, which the
// reach of pairs.go knows better.

const (
	nSpheres  = 5
	sphereGap = 0.5 // between them, in radii of gyration; the last takes all beyond
	nDegrees  = 6
)

// waves returns the length of degree 1 … nDegrees on each sphere, sphere by sphere.
func waves(dots []dot) (row [nSpheres * nDegrees]float64) {
	type sums [nSpheres][(nDegrees + 1) * (nDegrees + 1)]float64
	const some = 1024
	parts := make([]sums, (len(dots)+some-1)/some)
	share(len(parts), func(b int) {
		var sum sums // near at hand while it is added to
		for _, d := range dots[b*some : min((b+1)*some, len(dots))] {
			r := d.p.Len()
			if r == 0 {
				continue
			}
			y := harmonics(d.p[0]/r, d.p[1]/r, d.p[2]/r)
			at := math.Min(r/sphereGap, nSpheres-1)
			s := min(int(at), nSpheres-2)
			w := at - float64(s)
			for i, h := range y {
				sum[s][i] += float64((1 - w) * h)
				sum[s+1][i] += float64(w * h)
			}
		}
		parts[b] = sum
	})
	var all sums
	for i := range parts {
		for s := range all {
			for k, x := range parts[i][s] {
				all[s][k] += x
			}
		}
	}
	for s := range all {
		for l := 1; l <= nDegrees; l++ {
			sum := 0.0
			for _, x := range all[s][l*l : (l+1)*(l+1)] {
				sum += float64(x * x)
			}
			row[s*nDegrees+l-1] = math.Sqrt(sum) / float64(len(dots))
		}
	}
	return row
}

// harmonics returns Y(l,m) of the unit vector x, y, z at l*l+l+m.
//
// With q(l,m) = P(l,m)/(sin θ)^m and (x+iy)^m = c + is, Y is q·c for m ≥ 0 and
// q·s for m < 0, scaled by √(2(l−m)!/(l+m)!). The recursions are those of
// Abramowitz and Stegun 8.5.3 (MEMORY); no angle is ever taken.
func harmonics(x, y, z float64) (out [(nDegrees + 1) * (nDegrees + 1)]float64) {
	c, s, first := 1.0, 0.0, 1.0 // (x+iy)^m; q(m,m) = (2m−1)!!
	for m := range nDegrees + 1 {
		before, q := 0.0, first
		for l := m; l <= nDegrees; l++ {
			// Invariant: q is q(l,m), before is q(l−1,m).
			scale := harmonicScale[l][m]
			out[l*l+l+m] = float64(scale*q) * c
			if m > 0 {
				out[l*l+l-m] = float64(scale*q) * s
			}
			next := (float64(float64(2*l+1)*z*q) - float64(float64(l+m)*before)) / float64(l-m+1)
			before, q = q, next
		}
		c, s = float64(c*x)-float64(s*y), float64(c*y)+float64(s*x)
		first *= float64(2*m + 1)
	}
	return out
}

// harmonicScale is √(2(l−m)!/(l+m)!), 1 for m = 0.
var harmonicScale = func() (t [nDegrees + 1][nDegrees + 1]float64) {
	for l := range t {
		t[l][0] = 1
		for m := 1; m <= l; m++ {
			f := 2.0
			for k := l - m + 1; k <= l+m; k++ {
				f /= float64(k)
			}
			t[l][m] = math.Sqrt(f)
		}
	}
	return t
}()
