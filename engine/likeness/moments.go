package likeness

import (
	"math"

	"platebook/engine/mesh"
)

// thirds are the places of the third moments, and how often each counts.
var thirds = [10][4]int{
	{0, 0, 0, 1}, {1, 1, 1, 1}, {2, 2, 2, 1},
	{0, 0, 1, 3}, {0, 0, 2, 3}, {0, 1, 1, 3}, {1, 1, 2, 3}, {0, 2, 2, 3}, {1, 2, 2, 3}, {0, 1, 2, 6},
}

// addMoments adds to sum what the facet a, b, c gives to the second moments
// (0–5: xx, xy, yy, xz, yz, zz) and the third (6–15), w times: the brackets of
// solid.go, which are the same for a tetrahedron with the origin and for the
// facet itself.
func addMoments(sum *[16]float64, w float64, a, b, c mesh.Vec) {
	all := a.Add(b).Add(c)
	n := 0
	for j := range 3 {
		for k := range j + 1 {
			m := float64(all[j]*all[k]) + float64(a[j]*a[k]) + float64(b[j]*b[k]) + float64(c[j]*c[k])
			sum[n] += float64(w * m)
			n++
		}
	}
	for _, at := range thirds {
		i, j, k := at[0], at[1], at[2]
		m := float64(float64(all[i]*all[j]) * all[k])
		for _, t := range [3]*mesh.Vec{&a, &b, &c} {
			tij := float64(t[i] * t[j])
			m += float64(tij*all[k]) + float64(float64(t[i]*all[j])*t[k]) + float64(float64(all[i]*t[j])*t[k]) + float64(2*tij*t[k])
		}
		sum[n] += float64(w * m)
		n++
	}
}

type matrix [3][3]float64

// second returns the second moments divided by per.
func second(moments *[16]float64, per float64) (m matrix) {
	n := 0
	for j := range 3 {
		for k := range j + 1 {
			m[j][k] = moments[n] / per
			m[k][j] = m[j][k]
			n++
		}
	}
	return m
}

// axes returns the eigenvalues of a symmetric matrix, largest first.
func (m matrix) axes() [3]float64 {
	e, _ := m.principal()
	return e
}

// principal returns the eigenvalues of a symmetric matrix, largest first, and
// their unit vectors as rows, right-handed. By Jacobi's rotations (1846).
func (m matrix) principal() (e [3]float64, axes [3]mesh.Vec) {
	axes = [3]mesh.Vec{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 16 {
		for _, at := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
			p, q := at[0], at[1]
			if m[p][q] == 0 {
				continue
			}
			h := (m[q][q] - m[p][p]) / (2 * m[p][q])
			t := 1 / (math.Abs(h) + math.Sqrt(float64(h*h)+1))
			if h < 0 {
				t = -t
			}
			c := 1 / math.Sqrt(float64(t*t)+1)
			s := float64(t * c)
			r := 3 - p - q
			d := float64(t * m[p][q])
			m[p][p] -= d
			m[q][q] += d
			m[p][q], m[q][p] = 0, 0
			x, y := m[r][p], m[r][q]
			m[r][p] = float64(c*x) - float64(s*y)
			m[r][q] = float64(s*x) + float64(c*y)
			m[p][r], m[q][r] = m[r][p], m[r][q]
			for k := range 3 {
				x, y := axes[p][k], axes[q][k]
				axes[p][k] = float64(c*x) - float64(s*y)
				axes[q][k] = float64(s*x) + float64(c*y)
			}
		}
	}
	e = [3]float64{m[0][0], m[1][1], m[2][2]}
	for _, at := range [3][2]int{{0, 1}, {1, 2}, {0, 1}} {
		if e[at[0]] < e[at[1]] {
			e[at[0]], e[at[1]] = e[at[1]], e[at[0]]
			axes[at[0]], axes[at[1]] = axes[at[1]], axes[at[0]]
		}
	}
	axes[2] = axes[0].Cross(axes[1])
	return e, axes
}

// cubeRoot is Newton's, so that every processor rounds it alike. x > 0.
func cubeRoot(x float64) float64 {
	y := math.Max(x, 1)
	for {
		// Invariant: y ≥ the root, from the first step on.
		next := (float64(2*y) + x/(y*y)) / 3
		if next >= y {
			return y
		}
		y = next
	}
}
