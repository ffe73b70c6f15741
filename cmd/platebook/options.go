package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/quote"
)

// options say how files are to be printed. What is not said comes from the
// profiles: the library's rules name a printer and a tariff, the printer a
// material and a way.
type options struct {
	Files    []string `arg:"" name:"file" help:"Model files: STL, 3MF or OBJ."`
	Together bool     `help:"The files are the colour parts of one print, in order."`
	JSON     bool     `name:"json" help:"Everything, one JSON object a line for each print."`

	Unit      unit     `help:"Unit of files that do not say theirs: mm, cm, m, inch, foot or micron. Judged by size unless said." placeholder:"UNIT"`
	Scale     *percent `help:"Size against that in the file, such as 1.5 or 150%." placeholder:"FACTOR"`
	Wide      *float64 `help:"Wanted size along x; with several, as large as fits within all." placeholder:"MM"`
	Deep      *float64 `help:"Wanted size along y." placeholder:"MM"`
	Tall      *float64 `help:"Wanted size along z." placeholder:"MM"`
	Copies    int      `help:"How many." default:"1"`
	Turn      bool     `help:"Turn the part to the pose that prints best; otherwise it stays as its file has it."`
	OneColour bool     `help:"Print all colour parts in one colour."`

	Printer         string   `help:"Printer model." placeholder:"ID"`
	Material        []string `help:"Material; for colour parts one each, parted by commas." placeholder:"ID"`
	SupportMaterial string   `help:"Material of soluble supports." placeholder:"ID"`
	Way             string   `help:"Way to start from." placeholder:"ID"`
	Tariff          string   `help:"Tariff." placeholder:"ID"`
	Longest         *length  `help:"Longest print allowed, such as 6h or 5h30m; 0 for no limit." placeholder:"TIME"`
	Profiles        []string `help:"TOML files of the library's own profiles, laid over those built in." placeholder:"FILE" type:"path"`

	LayerHeight      *float64 `help:"Layer height." placeholder:"MM"`
	FirstLayerHeight *float64 `help:"Height of the first layer." placeholder:"MM"`
	Shells           *int     `help:"Shells." placeholder:"N"`
	SolidLayers      *int     `help:"Solid layers at top and bottom." placeholder:"N"`
	Infill           *density `help:"Infill density, such as 15%." placeholder:"PERCENT"`
	Pattern          *string  `help:"Infill pattern: lines, grid or curve." placeholder:"PATTERN"`
	Supports         *string  `help:"Supports: none, breakaway or soluble." placeholder:"KIND"`
	SupportAngle     *float64 `help:"Overhangs leaning further than this from the vertical get supports." placeholder:"DEG"`
	Base             *string  `help:"Base: none, skirt, brim or raft." placeholder:"KIND"`
}

// unit is a unit of length as people write it.
type unit mesh.Unit

func (u *unit) UnmarshalText(text []byte) error {
	v, err := mesh.ParseUnit(string(text))
	*u = unit(v)
	return err
}

// percent reads "150%", "150 %" and "1.5" alike, as 1.5.
type percent float64

func (p *percent) UnmarshalText(text []byte) error {
	s, hundredths := strings.CutSuffix(strings.TrimSpace(string(text)), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		return fmt.Errorf("%q is not a number or a percentage", text)
	}
	if hundredths {
		v /= 100
	}
	*p = percent(v)
	return nil
}

// density reads "15%" and "15" alike, as 15.
type density float64

func (d *density) UnmarshalText(text []byte) error {
	s := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(string(text)), "%"))
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= 0 && v <= 100) {
		return fmt.Errorf("%q is not a density: write 0%% to 100%%", text)
	}
	if v > 0 && v < 1 {
		return fmt.Errorf("%q is less than one percent: write 15%% for fifteen percent", text)
	}
	*d = density(v)
	return nil
}

// length is a length of time; 0 is a limit of none.
type length time.Duration

func (l *length) UnmarshalText(text []byte) error {
	s := strings.ReplaceAll(string(text), " ", "")
	d, err := time.ParseDuration(s) // of bare numbers it takes 0 alone
	if err != nil || d < 0 || d > 1000*time.Hour {
		return fmt.Errorf("%q is not a time: write it like 6h or 5h30m", text)
	}
	*l = length(d)
	return nil
}

// ask makes what the engine is asked, but for the files.
func (o *options) ask() (quote.Ask, error) {
	var none quote.Ask
	book, err := loadProfiles(o.Profiles)
	if err != nil {
		return none, err
	}
	a := quote.Ask{Unit: mesh.Unit(o.Unit), Copies: o.Copies, OneColour: o.OneColour, Turn: o.Turn, Workers: runtime.GOMAXPROCS(0)}
	if err := o.size(&a); err != nil {
		return none, err
	}
	a.LongestPrint = book.Rules.LongestPrint.Seconds()
	if o.Longest != nil {
		a.LongestPrint = time.Duration(*o.Longest).Seconds()
	}
	if a.Printer, err = book.Printer(or(o.Printer, book.Rules.Printer)); err != nil {
		return none, err
	}
	if a.Tariff, err = book.Tariff(or(o.Tariff, book.Rules.Tariff)); err != nil {
		return none, err
	}
	if len(o.Material) == 0 {
		o.Material = []string{a.Printer.DefaultMaterial}
	}
	for _, id := range o.Material {
		m, err := book.Material(id)
		if err != nil {
			return none, err
		}
		a.Materials = append(a.Materials, m)
	}
	if a.SupportMaterial, err = book.Material(or(o.SupportMaterial, a.Printer.DefaultSupportMaterial)); err != nil {
		return none, err
	}
	if a.Way, err = book.Way(or(o.Way, a.Printer.DefaultWay)); err != nil {
		return none, err
	}
	o.change(&a.Way)
	return a, a.Way.Validate()
}

// size sets the size asked for.
func (o *options) size(a *quote.Ask) error {
	if o.Copies < 1 {
		return errors.New("--copies must be at least 1")
	}
	if o.Scale != nil {
		if *o.Scale <= 0 {
			return errors.New("--scale must be above 0, such as 1.5 or 150%")
		}
		a.Scale = float64(*o.Scale)
	}
	for i, said := range []*float64{o.Wide, o.Deep, o.Tall} {
		if said == nil {
			continue
		}
		if *said <= 0 {
			return fmt.Errorf("--%s must be above 0 mm", []string{"wide", "deep", "tall"}[i])
		}
		a.Target[i] = *said
	}
	return nil
}

// change lays what was said over the way.
func (o *options) change(w *printer.Way) {
	set(&w.LayerHeight, o.LayerHeight)
	set(&w.FirstLayerHeight, o.FirstLayerHeight)
	set(&w.Shells, o.Shells)
	set(&w.SolidTop, o.SolidLayers)
	set(&w.SolidBottom, o.SolidLayers)
	if o.Infill != nil {
		w.Infill = float64(*o.Infill)
	}
	set((*string)(&w.Pattern), o.Pattern)
	set((*string)(&w.Supports), o.Supports)
	set(&w.SupportAngle, o.SupportAngle)
	set((*string)(&w.Base), o.Base)
}

func set[T any](to, said *T) {
	if said != nil {
		*to = *said
	}
}

func or(said, otherwise string) string {
	if said != "" {
		return said
	}
	return otherwise
}

func readProfile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("the profile file %s cannot be opened: %w", name, said(err))
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, printer.MaxFile+1))
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	return text, nil
}

// each answers for every print asked of, and calls show in order. It returns
// errStopped if a finding stops any of them.
func (o *options) each(s *streams, answer func(quote.Ask) (*quote.Answer, error), show func(*quote.Answer) error) error {
	base, err := o.ask()
	if err != nil {
		return err
	}
	groups := [][]string{o.Files}
	if !o.Together {
		groups = nil
		for _, f := range o.Files {
			groups = append(groups, []string{f})
		}
	}
	stopped := false
	var failed error
	for _, names := range groups {
		p := newProgress(s.err)
		base.Progress = p.say
		a, err := answerFor(base, names, answer)
		p.done()
		if errors.Is(err, errNoFile) {
			// The others can still be answered for.
			complain(s.err, err)
			failed = errComplained
			continue
		}
		if err != nil {
			return err
		}
		if err := show(a); err != nil {
			return err
		}
		stopped = stopped || !a.Printable
	}
	if failed == nil && stopped {
		return errStopped
	}
	return failed
}

// errNoFile is what a file that cannot be opened wraps.
var errNoFile = errors.New("no such model file")

func answerFor(a quote.Ask, names []string, answer func(quote.Ask) (*quote.Answer, error)) (*quote.Answer, error) {
	closeFiles, err := open(&a, names)
	if err != nil {
		return nil, err
	}
	defer closeFiles()
	return answer(a)
}

// open adds the named files to what is asked.
func open(a *quote.Ask, names []string) (closeFiles func(), err error) {
	var files []*os.File
	closeFiles = func() {
		for _, f := range files {
			f.Close()
		}
	}
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			closeFiles()
			return nil, noFile{fmt.Errorf("%s cannot be opened: %w", name, said(err))}
		}
		files = append(files, f)
		info, err := f.Stat()
		if err != nil {
			closeFiles()
			return nil, fmt.Errorf("%s cannot be read: %w", name, said(err))
		}
		if !info.Mode().IsRegular() {
			closeFiles()
			return nil, noFile{fmt.Errorf("%s is not a file: give the model file itself", name)}
		}
		a.Sources = append(a.Sources, quote.Source{Name: filepath.Base(name), Bytes: f, Size: info.Size()})
	}
	return closeFiles, nil
}

// noFile keeps its own words and is errNoFile.
type noFile struct{ error }

func (noFile) Is(target error) bool { return target == errNoFile }

// said strips the system call and path from a file error: the sentence around
// it names the file already.
func said(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// write is a show that prints a note, or JSON if that was asked for.
func (o *options) write(s *streams) func(*quote.Answer) error {
	if o.JSON {
		e := json.NewEncoder(s.out)
		e.SetEscapeHTML(false)
		return func(a *quote.Answer) error { return e.Encode(a) }
	}
	return func(a *quote.Answer) error {
		note(s.out, a)
		return nil
	}
}
