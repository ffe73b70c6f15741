package web

import (
	"bytes"
	"fmt"
	"net/http"

	"github.com/boombuler/barcode/code128"

	"platebook/desk"
)

// quiet is how many modules stay empty on each side of a barcode
// (ISO/IEC 15417: at least ten).
const quiet = 10

// bars draws the Code 128 symbol of a request's code (ISO/IEC 15417), one unit
// wide for each module. It carries what is printed below it and nothing else.
func bars(code desk.Code) ([]byte, error) {
	symbol, err := code128.Encode(string(code))
	if err != nil {
		return nil, fmt.Errorf("barcode of %s: %w", code, err)
	}
	wide := symbol.Bounds().Dx()
	const tall = 40
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" preserveAspectRatio="none" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h%dv%dH0z"/><path d="`,
		wide+2*quiet, tall, wide+2*quiet, tall)
	dark := func(x int) bool {
		r, _, _, _ := symbol.At(x, 0).RGBA()
		return x < wide && r < 0x8000
	}
	for x := 0; x < wide; x++ {
		if !dark(x) {
			continue
		}
		from := x
		for dark(x) {
			x++
		}
		fmt.Fprintf(&b, "M%d 0h%dv%dh-%dz", quiet+from, x-from, tall, x-from)
	}
	b.WriteString(`"/></svg>`)
	return b.Bytes(), nil
}

// barcode is the picture of a slip's barcode.
func (s *Site) barcode(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	slip, err := s.desk.Slip(r.Context(), who, desk.ID(r.PathValue("request")))
	if err != nil {
		return err
	}
	text, err := bars(slip.Code)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "private, max-age=3600")
	_, _ = w.Write(text)
	return nil
}
