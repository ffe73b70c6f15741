package likeness

import (
	"math"

	"platebook/engine/mesh"
)

// Sums of moments, and the few lines of linear algebra they need: written here
// because no processor may round them in its own way.

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
	s := a.Add(b).Add(c)
	// t_i t_j and t_i t_j t_k, summed over the corners.
	var two [6]float64
	var three [10]float64
	for _, t := range [3]*mesh.Vec{&a, &b, &c} {
		x, y, z := t[0], t[1], t[2]
		xx, xy, yy, xz, yz, zz := float64(x*x), float64(x*y), float64(y*y), float64(x*z), float64(y*z), float64(z*z)
		two[0] += xx
		two[1] += xy
		two[2] += yy
		two[3] += xz
		two[4] += yz
		two[5] += zz
		three[0] += float64(xx * x)
		three[1] += float64(yy * y)
		three[2] += float64(zz * z)
		three[3] += float64(xx * y)
		three[4] += float64(xx * z)
		three[5] += float64(xy * y)
		three[6] += float64(yy * z)
		three[7] += float64(xz * z)
		three[8] += float64(yz * z)
		three[9] += float64(xy * z)
	}
	x, y, z := s[0], s[1], s[2]
	xx, xy, yy, xz, yz, zz := float64(x*x), float64(x*y), float64(y*y), float64(x*z), float64(y*z), float64(z*z)
	sum[0] += float64(w * (xx + two[0]))
	sum[1] += float64(w * (xy + two[1]))
	sum[2] += float64(w * (yy + two[2]))
	sum[3] += float64(w * (xz + two[3]))
	sum[4] += float64(w * (yz + two[4]))
	sum[5] += float64(w * (zz + two[5]))
	// s_i s_j s_k + two_ij s_k + two_ik s_j + two_jk s_i + 2 three_ijk
	third := func(k int, a, b, c float64) {
		sum[6+k] += float64(w * (a + b + c + float64(2*three[k])))
	}
	third(0, float64((xx+two[0])*x), float64(2*two[0]*x), 0)
	third(1, float64((yy+two[2])*y), float64(2*two[2]*y), 0)
	third(2, float64((zz+two[5])*z), float64(2*two[5]*z), 0)
	third(3, float64((xx+two[0])*y), float64(2*two[1]*x), 0)
	third(4, float64((xx+two[0])*z), float64(2*two[3]*x), 0)
	third(5, float64((yy+two[2])*x), float64(2*two[1]*y), 0)
	third(6, float64((yy+two[2])*z), float64(2*two[4]*y), 0)
	third(7, float64((zz+two[5])*x), float64(2*two[3]*z), 0)
	third(8, float64((zz+two[5])*y), float64(2*two[4]*z), 0)
	third(9, float64((xy+two[1])*z), float64(two[3]*y), float64(two[4]*x))
}

// thirdIn returns third moments, given in the order of thirds, in the frame of axes.
func thirdIn(axes [3]mesh.Vec, t *[10]float64) (row [10]float64) {
	var full [3][3][3]float64
	for n, at := range thirds {
		i, j, k := at[0], at[1], at[2]
		for _, p := range [6][3]int{{i, j, k}, {i, k, j}, {j, i, k}, {j, k, i}, {k, i, j}, {k, j, i}} {
			full[p[0]][p[1]][p[2]] = t[n]
		}
	}
	for n, at := range thirds {
		for i := range 3 {
			for j := range 3 {
				for k := range 3 {
					w := float64(axes[at[0]][i]*axes[at[1]][j]) * axes[at[2]][k]
					row[n] += float64(w * full[i][j][k])
				}
			}
		}
	}
	return row
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
