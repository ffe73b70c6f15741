package region

import (
	"encoding/binary"
	"fmt"
	"math/rand"
	"testing"
)

// decode makes two regions of bytes. On a lattice (wide false) a byte is a
// coordinate modulo size and everything overlaps; wide takes four bytes a
// coordinate, beyond Limit too. A coordinate byte of 255, or a fourth of the
// wide ones, repeats an earlier point or ends a ring.
func decode(data []byte, size int, wide bool) (a, b Region) {
	var rs [2]Region
	var ring Ring
	var seen []Point
	which := 0
	end := func() {
		if len(ring) > 0 {
			rs[which%2] = append(rs[which%2], ring)
			ring = nil
			which++
		}
	}
	for len(seen) < 60 {
		var p Point
		if wide {
			if len(data) < 9 {
				break
			}
			p = Point{Micron(int32(binary.LittleEndian.Uint32(data[1:]))), Micron(int32(binary.LittleEndian.Uint32(data[5:])))}
			if data[0]&3 == 0 && len(seen) > 0 {
				p = seen[int(data[1])%len(seen)]
			}
			if data[0]&0x70 == 0 {
				end()
			}
			data = data[9:]
		} else {
			if len(data) < 2 {
				break
			}
			x, y := data[0], data[1]
			data = data[2:]
			if x == 255 {
				end()
				continue
			}
			p = Point{Micron(int(x) % size), Micron(int(y) % size)}
		}
		ring = append(ring, p)
		seen = append(seen, p)
	}
	end()
	return rs[0], rs[1]
}

func seeds(f *testing.F) {
	rng := rand.New(rand.NewSource(1))
	for i := range 40 {
		data := make([]byte, 20+10*i)
		rng.Read(data)
		f.Add(data, uint8(i))
	}
	f.Add([]byte{0, 0, 10, 0, 10, 10, 0, 10, 255, 0, 10, 0, 10, 10, 0, 10}, uint8(20))
}

func fuzzed(data []byte, how uint8) (a, b Region) {
	if how%8 == 7 {
		return decode(data, 0, true)
	}
	return decode(data, []int{3, 5, 8, 13, 20, 40, 250}[how%8], false)
}

func FuzzBoolean(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, data []byte, how uint8) {
		a, b := fuzzed(data, how)
		sound(t, "union as it came", Union(a, b))
		var each []Region
		for _, r := range []Region{a, b} {
			for _, ring := range r {
				each = append(each, Region{ring})
				for i, p := range ring { // from here on within Limit
					ring[i] = Point{Micron(fit(p.X)), Micron(fit(p.Y))}
				}
			}
		}
		sound(t, "union of rings", Union(each...))
		booleans(t, a, b, rand.New(rand.NewSource(int64(how))))
	})
}

func FuzzOffset(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, data []byte, how uint8) {
		if len(data) == 0 {
			return
		}
		a, _ := fuzzed(data, how)
		d := Micron(int8(data[0]))
		join := Join(how % 3)
		arc := Micron(1 + data[len(data)-1]%20)
		if how&32 != 0 {
			d <<= how & 15
			arc <<= how & 15
		}
		r := a.Offset(d, join, arc)
		sound(t, fmt.Sprintf("offset %d %d %d of %s", d, join, arc, show(a)), r)
		sound(t, "simplify", r.Simplify(arc))
		sound(t, "turn", r.Turn(float64(how)))
		sound(t, "translate", r.Translate(d<<20, -d))
	})
}
