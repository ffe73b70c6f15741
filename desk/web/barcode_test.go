package web

import (
	"encoding/xml"
	"image"
	"image/color"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"
	"pgregory.net/rapid"

	"platebook/desk"
)

var bar = regexp.MustCompile(`M(\d+) 0h(\d+)v(\d+)h-(\d+)z`)

// painted draws the bars of a picture, so many pixels for each unit.
func painted(t rapid.TB, svg []byte, scale int) *image.Gray {
	t.Helper()
	var root struct {
		ViewBox string `xml:"viewBox,attr"`
		Path    []struct {
			D string `xml:"d,attr"`
		} `xml:"path"`
	}
	if err := xml.Unmarshal(svg, &root); err != nil {
		t.Fatal(err)
	}
	box := strings.Fields(root.ViewBox)
	wide, _ := strconv.Atoi(box[2])
	tall, _ := strconv.Atoi(box[3])
	img := image.NewGray(image.Rect(0, 0, wide*scale, tall*scale))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range bar.FindAllStringSubmatch(root.Path[len(root.Path)-1].D, -1) {
		x, _ := strconv.Atoi(m[1])
		w, _ := strconv.Atoi(m[2])
		for px := x * scale; px < (x+w)*scale; px++ {
			for py := range tall * scale {
				img.SetGray(px, py, color.Gray{})
			}
		}
	}
	return img
}

// What is drawn is read back by another library's reader of Code 128
// (github.com/makiuchi-d/gozxing).
func TestBarcodeIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		code := desk.NewCode()
		scale := rapid.IntRange(1, 5).Draw(t, "pixels for a module")
		svg, err := bars(code)
		if err != nil {
			t.Fatal(err)
		}
		img, err := gozxing.NewBinaryBitmapFromImage(painted(t, svg, scale))
		if err != nil {
			t.Fatal(err)
		}
		got, err := oned.NewCode128Reader().Decode(img, nil)
		if err != nil || got.GetText() != string(code) {
			t.Fatalf("%s was read as %v, %v", code, got, err)
		}
	})
}

// ISO/IEC 15417 (MEMORY): eleven modules for the start, each character and the
// check, thirteen for the stop, and a quiet zone of ten on each side. Code set
// B; the check of K7-204 is 104 + 1·43 + 2·23 + 3·13 + 4·18 + 5·16 + 6·20 = 504,
// modulo 103 = 92.
func TestBarcodeByTheStandard(t *testing.T) {
	svg, err := bars("K7-204")
	if err != nil {
		t.Fatal(err)
	}
	img := painted(t, svg, 1)
	if want := 10 + 11*(1+6+1) + 13 + 10; img.Rect.Dx() != want {
		t.Errorf("%d modules wide, want %d", img.Rect.Dx(), want)
	}
	row := ""
	for x := range img.Rect.Dx() {
		row += map[bool]string{true: "1", false: "0"}[img.GrayAt(x, 5).Y == 0]
	}
	quietZone := strings.Repeat("0", 10)
	const start, check, stop = "11010010000", "10101111000", "1100011101011" // Start B, value 92, Stop
	if !strings.HasPrefix(row, quietZone+start) || !strings.HasSuffix(row, check+stop+quietZone) {
		t.Errorf("modules %s", row)
	}
}
