package region

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"platebook/internal/oracle"
)

// Differential tests against Clipper2 (npm clipper2-wasm), through
// internal/oracle/node/clipper.mjs.

type clipperCase struct {
	Op   string    `json:"op"`
	A    [][]int64 `json:"a"`
	B    [][]int64 `json:"b"`
	D    Micron    `json:"d"`
	Join string    `json:"join"`
	Arc  Micron    `json:"arc"`

	ours  Region
	bound float64        // of the difference in area, mm²
	exact func() float64 // area known otherwise, if it can be, mm²
}

type clipperAnswer struct {
	Area   float64 `json:"area"` // µm²
	Rings  int     `json:"rings"`
	Points int     `json:"points"`
}

// clip compares the areas of all cases. Clipper2 itself errs now and then where
// many edges overlap, by a small cell left out or put in; where the area can be
// had another way, that way decides, and the reference may be wrong in one case
// of a hundred.
func clip(t *testing.T, cases []clipperCase) {
	t.Helper()
	var answers []clipperAnswer
	oracle.Node(t, "clipper.mjs", cases, &answers)
	if len(answers) != len(cases) {
		t.Fatalf("%d answers to %d cases", len(answers), len(cases))
	}
	worst, wrong := 0.0, 0
	for i, c := range cases {
		diff := math.Abs(c.ours.Area() - answers[i].Area/1e6)
		if diff > c.bound && c.exact != nil && math.Abs(c.ours.Area()-c.exact()) <= c.bound/2 {
			wrong++
			continue
		}
		worst = max(worst, diff/c.bound)
		if diff > c.bound {
			t.Errorf("%s %d %s %d: area %.6f mm², reference %.6f (%d rings, ours %d), bound %.6f\na %v\nb %v",
				c.Op, c.D, c.Join, c.Arc, c.ours.Area(), answers[i].Area/1e6, answers[i].Rings, len(c.ours), c.bound, c.A, c.B)
		}
	}
	if wrong*100 > len(cases) {
		t.Errorf("the reference is wrong in %d of %d cases", wrong, len(cases))
	}
	t.Logf("%d cases, largest difference %.0f %% of its bound, reference wrong in %d", len(cases), 100*worst, wrong)
}

// Either engine may move a point of an edge by √½ µm when it rounds, so areas
// may differ by 2·√½ µm times the length of all edges, and the corners of that.
func booleanBound(rs ...Region) float64 { return 1.5e-3*length(rs...) + 1e-5 }

func TestBooleansAgainstClipper(t *testing.T) {
	for i, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(int64(200 + i)))
			var cases []clipperCase
			for range 60 {
				a, b := k.make(rng), k.make(rng)
				bound := booleanBound(a, b)
				cases = append(cases, clipperCase{Op: "nonzero", A: flat(a), ours: Nonzero(a...), bound: bound})
				for _, op := range ops {
					cases = append(cases, clipperCase{
						Op: op.name, A: flat(a), B: flat(b), ours: op.do(a, b), bound: bound,
						exact: func() float64 { return slabArea(a, b, op.is) },
					})
				}
			}
			clip(t, cases)
		})
	}
}

var joins = []struct {
	name string
	join Join
}{{"round", Round}, {"mitre", Mitre}, {"square", Square}}

// Offset edges are rounded by both engines, to √½ µm at either end and once more
// where they cross, and the arcs of round joins lie within arc of the true arc
// in both: 3 µm + arc times the length of what both began with and ended with.
func offsetBound(arc Micron, rs ...Region) float64 {
	return (3e-3+float64(arc)/1000)*length(rs...) + 1e-5
}

func TestOffsetsAgainstClipper(t *testing.T) {
	for i, k := range kinds {
		if k.name == "lattice 1" {
			continue // the bound is larger than the region
		}
		t.Run(k.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(int64(300 + i)))
			var cases []clipperCase
			for range 25 {
				r := Nonzero(k.make(rng)...)
				if k.name == "full range" { // leave room to grow
					for _, ring := range r {
						for j := range ring {
							ring[j] = Point{ring[j].X / 4, ring[j].Y / 4}
						}
					}
					r = Nonzero(r...)
				}
				box := r.Bounds()
				d := 1 + Micron(rng.Int63n(int64(box.Max.X-box.Min.X)/8+2))
				arc := 1 + Micron(rng.Intn(5))
				for _, j := range joins {
					if j.join != Round && needle(r) {
						continue
					}
					for _, d := range []Micron{d, -d} {
						ours := r.Offset(d, j.join, arc)
						cases = append(cases, clipperCase{
							Op: "offset", A: flat(r), D: d, Join: j.name, Arc: arc,
							ours: ours, bound: offsetBound(arc, r, ours),
						})
					}
				}
			}
			clip(t, cases)
		})
	}
}

// needle says whether an edge of r turns back by more than 177°, cosine below
// -0.999. There Clipper2 puts a join on the inner side of the corner as well,
// which is not a part of the offset; within a disc it does no harm.
func needle(r Region) bool {
	for _, ring := range r {
		for i, q := range ring {
			p, n := ring[(i+len(ring)-1)%len(ring)], ring[(i+1)%len(ring)]
			ax, ay, bx, by := float64(q.X-p.X), float64(q.Y-p.Y), float64(n.X-q.X), float64(n.Y-q.Y)
			if (ax*bx+ay*by)/math.Hypot(ax, ay)/math.Hypot(bx, by) < -0.9989 {
				return true
			}
		}
	}
	return false
}

func TestSlicesAgainstClipper(t *testing.T) {
	layers := append(bunnyLayers(t, 20), cut(t, "gearwheel", 20, 4, 1)...)
	var cases []clipperCase
	for i, r := range layers {
		sound(t, fmt.Sprintf("layer %d", i), r)
		for _, d := range []Micron{-2000, -400, -50, 50, 400, 2000} {
			ours := r.Offset(d, Round, 5)
			sound(t, fmt.Sprintf("layer %d offset %d", i, d), ours)
			cases = append(cases, clipperCase{
				Op: "offset", A: flat(r), D: d, Join: "round", Arc: 5, ours: ours, bound: offsetBound(5, r, ours),
			})
		}
		if i == 0 {
			continue
		}
		for _, op := range ops {
			ours := op.do(r, layers[i-1])
			sound(t, fmt.Sprintf("layers %d and %d %s", i, i-1, op.name), ours)
			cases = append(cases, clipperCase{
				Op: op.name, A: flat(r), B: flat(layers[i-1]), ours: ours, bound: booleanBound(r, layers[i-1]),
			})
		}
	}
	clip(t, cases)
}
