package quote

import (
	"math"
	"testing"

	"platebook/engine/mesh"
)

// corner is an L of two arms, 30 mm long and 10 mm wide: two of them make a square ring's worth.
func corner() *mesh.Mesh {
	return mesh.Merge(block(30, 10, 6), mesh.Transform(block(10, 30, 6), mesh.Translate(mesh.Vec{-10, 10, 0})))
}

func TestPlatesHoldEveryCopyOnce(t *testing.T) {
	l := ask(t, source("corner.stl", stl(corner())))
	l.Copies = 9
	b := ask(t, source("block.stl", stl(block(20, 14, 10))))
	b.Copies = 5
	got, err := FindPlates([]Ask{l, b})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Unplaced) != 0 || len(got.Plates) == 0 {
		t.Fatalf("%d plates, unplaced %v", len(got.Plates), got.Unplaced)
	}
	counts := map[int]int{}
	mass, shared, time, sharedTime := 0.0, 0.0, 0.0, 0.0
	for _, p := range got.Plates {
		for _, at := range p.Parts {
			counts[at.Request]++
			if math.Abs(at.XMM) > 100 || math.Abs(at.YMM) > 100 {
				t.Errorf("%s stands at %v, %v: off the platform", at.File, at.XMM, at.YMM)
			}
		}
		box := p.Solid.Bounds()
		for k := range 2 {
			if box.Min[k] < -100 || box.Max[k] > 100 {
				t.Errorf("the plate reaches from %v to %v", box.Min, box.Max)
			}
		}
		if p.TimeS > l.LongestPrint {
			t.Errorf("a plate takes %.0f s of %.0f", p.TimeS, l.LongestPrint)
		}
		mass += p.MassG["pla"]
		time += p.TimeS
	}
	if counts[0] != 9 || counts[1] != 5 {
		t.Errorf("placed %v", counts)
	}
	for _, r := range got.Requests {
		shared += r.MassG["pla"]
		sharedTime += r.TimeS
		if r.Price == nil {
			t.Errorf("%s has no price", r.File)
		}
	}
	if math.Abs(shared/mass-1) > 1e-6 || math.Abs(sharedTime/time-1) > 1e-9 {
		t.Errorf("requests share %.4f g and %.1f s of %.4f g and %.1f s", shared, sharedTime, mass, time)
	}
}

// A plate saves what printing one by one repeats: the warm-up of each print but
// the first of each plate (COMPUTED), travel between parts apart.
func TestPlateSavesWarmUps(t *testing.T) {
	a := ask(t, source("block.stl", stl(block(20, 14, 10))))
	one := quoteOf(t, a)
	a.Copies = 6
	got, err := FindPlates([]Ask{a})
	if err != nil || len(got.Plates) != 1 {
		t.Fatalf("%v, %d plates", err, len(got.Plates))
	}
	apart := 6 * one.PrintTimeS
	most := apart - 5*one.TimeParts.WarmUp
	if p := got.Plates[0]; p.TimeS > 1.1*most || p.TimeS < 0.5*most {
		t.Errorf("six on a plate take %.0f s; one by one %.0f s, of which %.0f s are warm-ups saved", p.TimeS, apart, apart-most)
	}
}

func TestPlatesKeepWithinTheLongestPrint(t *testing.T) {
	a := ask(t, source("block.stl", stl(block(20, 14, 10))))
	one := quoteOf(t, a)
	a.Copies, a.LongestPrint = 7, 2.5*one.PrintTimeS
	got, err := FindPlates([]Ask{a})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range got.Plates {
		n += len(p.Parts)
		if p.TimeS > a.LongestPrint {
			t.Errorf("a plate of %d takes %.0f s of %.0f", len(p.Parts), p.TimeS, a.LongestPrint)
		}
	}
	if n != 7 || len(got.Plates) < 3 {
		t.Errorf("%d copies on %d plates; %v", n, len(got.Plates), got.Unplaced)
	}
}

func TestWhatCannotBePrintedIsNotPlaced(t *testing.T) {
	good := ask(t, source("block.stl", stl(block(20, 14, 10))))
	bad := ask(t, source("poem.stl", []byte("The mere lies still.\n")))
	big := ask(t, source("big.stl", stl(block(300, 20, 20))))
	got, err := FindPlates([]Ask{good, bad, big})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Plates) != 1 || len(got.Plates[0].Parts) != 1 || len(got.Unplaced) != 2 {
		t.Errorf("%d plates, unplaced %q", len(got.Plates), got.Unplaced)
	}
}

// Offers laid out stand as they were offered, every copy once; one copy alone
// takes what its offer says.
func TestOffersAreLaidOutAsTheyStand(t *testing.T) {
	asks := []Ask{ask(t, source("corner.stl", stl(corner()))), ask(t, source("block.stl", stl(block(20, 14, 10))))}
	var found []*Ways
	var offers []Offer
	for i := range asks {
		asks[i].Copies = 3 - 2*i // three corners, one block
		ways, err := FindWays(asks[i], Wish{})
		if err != nil || len(ways.Offers) == 0 {
			t.Fatal(err, ways)
		}
		found, offers = append(found, ways), append(offers, ways.Offers[0])
	}
	got, err := LayOut(asks, found, offers)
	if err != nil || len(got.Unplaced) != 0 {
		t.Fatal(err, got.Unplaced)
	}
	if got.Requests[0].Copies != 3 || got.Requests[1].Copies != 1 {
		t.Errorf("placed %d and %d", got.Requests[0].Copies, got.Requests[1].Copies)
	}
	alone, err := LayOut(asks[1:], found[1:], offers[1:])
	if err != nil || len(alone.Plates) != 1 {
		t.Fatal(err, alone)
	}
	p, f := alone.Plates[0], offers[1].Figures
	if p.TimeS != f.PrintTimeS || p.MassG["pla"] != f.MassG["pla"] || alone.Requests[0].Price.Total != f.Price.Total {
		t.Errorf("alone on a plate %.1f s, %.3f g, %s; offered %.1f s, %.3f g, %s",
			p.TimeS, p.MassG["pla"], alone.Requests[0].Price.Total, f.PrintTimeS, f.MassG["pla"], f.Price.Total)
	}
}
