package pack_test

import (
	"fmt"
	"testing"

	"platebook/engine/pack"
	"platebook/engine/region"
)

// FuzzPack: whatever outlines and platform, nothing panics and plates are sound.
func FuzzPack(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz0123456789"), int64(100_000), int64(90_000), int64(1000), int64(3000), int64(0), 4, 3.0)
	f.Add([]byte{0, 0, 9, 200, 90, 9, 200, 9, 90, 3, 0, 0, 9, 0, 99, 9, 99, 0}, int64(1<<40), int64(1<<30), int64(0), int64(1<<50), int64(7), 1<<40, 0.0)
	f.Add([]byte{0, 0, 40, 200, 90, 40, 200, 9, 40, 3, 0, 0, 40, 0, 99, 40, 99, 0}, int64(-1<<63), int64(1), int64(-5), int64(-1<<63), int64(-1), -3, -1.0)
	f.Fuzz(func(t *testing.T, data []byte, width, depth, margin, clearance, grid int64, turns int, longest float64) {
		if len(data) > 300 {
			return
		}
		var items []pack.Item
		// Three bytes a point; the first says how far and whether something new begins.
		for ; len(data) >= 3; data = data[3:] {
			switch {
			case data[0] < 4 || len(items) == 0:
				items = append(items, pack.Item{ID: fmt.Sprint(len(items)), Group: string(data[1:2]), Turns: turns, Height: region.Micron(data[2])})
				fallthrough
			case data[0] < 8:
				it := &items[len(items)-1]
				it.Outline = append(it.Outline, region.Ring{})
			default:
				it := &items[len(items)-1]
				r := &it.Outline[len(it.Outline)-1]
				*r = append(*r, region.Point{X: region.Micron(int8(data[1])) << (data[0] % 60), Y: region.Micron(int8(data[2])) << (data[0] % 60)})
			}
		}
		o := pack.Options{
			Platform: pack.Platform{Width: region.Micron(width), Depth: region.Micron(depth), Margin: region.Micron(margin), Clearance: region.Micron(clearance), Height: 200},
			Grid:     region.Micron(grid), Longest: longest, Work: 100_000,
			Time: func(items []int) float64 { return float64(len(items)) },
		}
		plates, unplaced := pack.Pack(items, o)
		if err := pack.Check(items, o, plates, unplaced); err != nil {
			t.Fatal(err)
		}
		plate, depthOf, unplaced := pack.Strip(items, o)
		for i := range items {
			items[i].Group = plate.Group
		}
		plates = nil
		if len(plate.Placed) > 0 {
			plates = append(plates, plate)
		}
		o.Platform.Depth, o.Platform.Height, o.Longest = depthOf, 0, 0
		if err := pack.Check(items, o, plates, unplaced); err != nil {
			t.Fatal("strip: ", err)
		}
	})
}
