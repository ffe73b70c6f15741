package desk

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/quote"
)

// WorkSlip is what an operator needs to lay out and start one plate in the
// program its printer came with: nothing about the patron.
type WorkSlip struct {
	Library  string
	Branch   string // where it is collected
	Code     Code
	Request  ID
	Version  int64 // of the request
	Plate    int   // from 0
	Of       int
	State    PlateState
	Attempt  int // that the next run is
	Most     int
	LastTime *Failure
	Model    string // printer model
	Colour   string // wished
	Needed   string // date
	Reels    []Reel // materials with what they take
	Seconds  float64
	Parts    []WorkPart
	Settings []Keyed  // of the whole plate, to be keyed in
	Findings []string // what the check said to look out for
}

// Reel is a material and how much of it is expected to go.
type Reel struct {
	Material string
	Grams    float64
	Metres   float64
	NozzleC  float64 // from the material's profile; 0 is not known
	PlateC   float64
	Cautions []string
}

// WorkPart is one part to lay out.
type WorkPart struct {
	Files   []File // the first, and further ones as colour parts
	Copies  int
	SizeMM  mesh.Vec
	Scale   float64
	Unit    string // that the file must be read in
	Pose    string // why and how it is turned, in words
	SpinDeg float64
	AsSent  bool    // keep the file's own pose
	Keyed   []Keyed // where its settings differ from those of the first part
}

// Keyed is one setting and its value, with its unit.
type Keyed struct{ Name, Value string }

// WorkSlip gathers the work slip of a plate.
func (d *Desk) WorkSlip(ctx context.Context, by Actor, id ID, plate int) (WorkSlip, error) {
	var w WorkSlip
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := tx.Request(id)
		if err != nil {
			return err
		}
		if err := mayPrint(tx, by, r); err != nil {
			return err
		}
		stands, rules, err := standsOf(tx, r)
		if err != nil {
			return err
		}
		if plate < 0 || plate >= len(stands) {
			return Faultf(NotFound, "%s has no plate %d.", r.Code, plate+1)
		}
		g, err := d.gather(tx)
		if err != nil {
			return err
		}
		files, err := tx.FilesOf(id)
		if err != nil {
			return err
		}
		w = workSlip(r, stands[plate], rules, g, files)
		return nil
	})
	if err != nil {
		return WorkSlip{}, err
	}
	return w, nil
}

// mayPrint is for staff of the request's branch, and for operators of every
// branch that has the printer model it was agreed for: it may be printed there.
func mayPrint(tx Tx, by Actor, r Request) error {
	err := by.Require(r.Branch, Operator, Reviewer)
	if err == nil || r.Agreement == nil || r.State != Agreed && r.State != Printing {
		return err
	}
	units, errUnits := tx.Printers(nil)
	if errUnits != nil {
		return errUnits
	}
	if slices.ContainsFunc(units, func(p PrinterUnit) bool {
		return !p.Retired && p.Model == r.Agreement.Way.Printer && by.May(p.Branch, Operator)
	}) {
		return nil
	}
	return err
}

func workSlip(r Request, s PlateStand, rules Rules, g gathered, files []File) WorkSlip {
	way := r.Agreement.Way
	plate := way.Plates[s.Plate]
	w := WorkSlip{Library: g.settings.Library.Name, Branch: g.branches[r.Branch].Name, Code: r.Code, Request: r.ID, Version: r.Version, Plate: s.Plate, Of: len(way.Plates),
		State: s.State, Attempt: s.Attempts + 1, Most: rules.Attempts, LastTime: s.Last, Model: g.names.model(way.Printer),
		Colour: r.Wish.Colour, Needed: r.Wish.Needed, Seconds: plate.Seconds}
	for _, id := range way.materials(plate) {
		reel := Reel{Material: g.names.material(id), Grams: plate.Grams[id]}
		if m, err := g.names.Material(id); err == nil {
			reel.Metres, reel.NozzleC, reel.PlateC, reel.Cautions = m.Metres(reel.Grams), m.NozzleC, m.PlatformC, m.Cautions
		}
		w.Reels = append(w.Reels, reel)
	}
	for _, p := range way.onPlate(plate) {
		keyed := keyed(p.Settings, r.Plan.Way, g.names)
		if w.Settings == nil {
			w.Settings = keyed
		}
		part := WorkPart{Copies: max(1, p.Copies), SizeMM: p.SizeMM, Scale: p.Scale, Pose: p.Pose, SpinDeg: p.SpinDeg, Files: named(files, p.File)}
		if !slices.Equal(keyed, w.Settings) {
			part.Keyed = keyed
		}
		for _, plan := range r.Plan.Parts {
			if plan.File == p.File {
				part.Unit, part.AsSent = plan.Unit, plan.AsSent
				part.Files = append(part.Files, named(files, plan.Colours...)...)
				break
			}
		}
		w.Parts = append(w.Parts, part)
	}
	for _, f := range r.Basis.Finding {
		w.Findings = append(w.Findings, f.Message)
		// What the check says already is not said again.
		for i := range w.Reels {
			w.Reels[i].Cautions = slices.DeleteFunc(slices.Clone(w.Reels[i].Cautions), func(c string) bool { return strings.Contains(f.Message, c) })
		}
	}
	return w
}

func named(files []File, ids ...ID) []File {
	var out []File
	for _, id := range ids {
		if i := slices.IndexFunc(files, func(f File) bool { return f.ID == id }); i >= 0 {
			out = append(out, files[i])
		}
	}
	return out
}

// keyed puts the settings of a way into words to be keyed in. What the way
// does not say comes from the library's way it was found from.
func keyed(s quote.Settings, from string, n names) []Keyed {
	short := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	all := []Keyed{
		{"Layer height", short(s.LayerHeightMM) + " mm"},
		{"Infill", short(s.InfillPercent) + " %"},
		{"Shells", strconv.Itoa(s.Shells)},
		{"Solid layers", fmt.Sprintf("%d on top, %d below", s.SolidTop, s.SolidBottom)},
		{"Supports", s.Supports},
		{"Base", s.Base},
	}
	w, err := n.Way(from)
	if err != nil {
		return all
	}
	if s.InfillPercent > 0 && s.InfillPercent < 100 && w.Pattern != "" {
		all[1].Value += ", laid as " + string(w.Pattern)
	}
	if s.Supports != "" && s.Supports != string(printer.NoSupports) && w.SupportAngle > 0 {
		all[4].Value += fmt.Sprintf(", where it leans more than %s° from the vertical", short(w.SupportAngle))
	}
	if s.Base == string(printer.Brim) && w.BrimWidth > 0 {
		all[5].Value += fmt.Sprintf(", %s mm wide", short(w.BrimWidth))
	}
	return all
}

// PrintFile opens a file of a request for whoever prints it.
func (d *Desk) PrintFile(ctx context.Context, by Actor, file ID) (File, Blob, error) {
	var f File
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		if f, err = tx.File(file); err != nil {
			return err
		}
		r, err := tx.Request(f.Request)
		if err != nil {
			return err
		}
		return mayPrint(tx, by, r)
	})
	if err != nil {
		return File{}, nil, err
	}
	b, err := d.Shelves.Open(ctx, f.Hash)
	if err != nil {
		return File{}, nil, err
	}
	return f, b, nil
}
