package say

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/constant"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// What is said anywhere, read from the source: every constant of type Form in
// the packages that import this one, wherever it stands. A form that is no
// constant could not be found, so there must be none.

const room = "platebook/engine/say"

// spoken are the forms of the program.
type spoken struct {
	forms   map[Form]string // and where one of each stands
	counted map[Form]Form   // many, and the one that goes with it
	faults  []string        // what a reader of the source would object to
}

// source reads the forms of all packages, once.
var source = sync.OnceValues(func() (*spoken, error) {
	list := exec.Command("go", "list", "-deps", "-export", "-f", "{{.ImportPath}}\t{{.Export}}\t{{.Dir}}\t{{join .GoFiles \" \"}}\t{{join .Imports \" \"}}", "platebook/engine/...", "platebook/desk/...")
	var wrong bytes.Buffer
	list.Stderr = &wrong
	out, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w\n%s", err, &wrong)
	}
	exports := map[string]string{}
	var packages [][]string
	for line := range strings.Lines(string(out)) {
		f := strings.Split(strings.TrimRight(line, "\n"), "\t")
		exports[f[0]] = f[1]
		if f[0] == room || strings.HasPrefix(f[0], "platebook/") && strings.Contains(" "+f[4]+" ", " "+room+" ") {
			packages = append(packages, f)
		}
	}
	s := &spoken{forms: map[Form]string{}, counted: map[Form]Form{}}
	fset := token.NewFileSet()
	lookup := func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) }
	imports := importer.ForCompiler(fset, "gc", lookup)
	for _, p := range packages {
		var files []*ast.File
		for _, name := range strings.Fields(p[3]) {
			f, err := parser.ParseFile(fset, filepath.Join(p[2], name), nil, parser.SkipObjectResolution)
			if err != nil {
				return nil, err
			}
			files = append(files, f)
		}
		info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}
		if _, err := (&types.Config{Importer: imports}).Check(p[0], fset, files, info); err != nil {
			return nil, err
		}
		for _, f := range files {
			ast.Inspect(f, func(n ast.Node) bool { return s.read(n, info, fset, p[0] == room) })
		}
	}
	return s, nil
})

// read looks at one node, and says whether to look into it.
func (s *spoken) read(n ast.Node, info *types.Info, fset *token.FileSet, here bool) bool {
	e, ok := n.(ast.Expr)
	if !ok {
		return true
	}
	where := func() string {
		at := fset.Position(e.Pos())
		return fmt.Sprintf("%s:%d", filepath.Base(filepath.Dir(at.Filename))+"/"+filepath.Base(at.Filename), at.Line)
	}
	if form, ok := formOf(info.Types[e]); ok {
		if form != "" {
			s.forms[form] = where()
		}
		return false
	}
	if call, ok := e.(*ast.CallExpr); ok && !here {
		s.called(call, info, where())
	}
	return true
}

func isForm(t types.Type) bool {
	named, ok := t.(*types.Named)
	return ok && named.Obj().Name() == "Form" && named.Obj().Pkg().Path() == room
}

func formOf(v types.TypeAndValue) (Form, bool) {
	if v.Value == nil || !isForm(v.Type) {
		return "", false
	}
	return Form(constant.StringVal(v.Value)), true
}

// called looks at what fills a form in a call.
func (s *spoken) called(call *ast.CallExpr, info *types.Info, where string) {
	if t := info.Types[call.Fun]; t.IsType() {
		if isForm(t.Type) {
			s.faults = append(s.faults, where+": a form is made of what is no constant")
		}
		return
	}
	sig, ok := info.Types[call.Fun].Type.(*types.Signature)
	if !ok {
		return
	}
	var forms []Form
	var names []string
	last := -1
	for i := range sig.Params().Len() {
		if p := sig.Params().At(i); isForm(p.Type()) && i < len(call.Args) {
			form, _ := formOf(info.Types[call.Args[i]])
			forms, names, last = append(forms, form), append(names, p.Name()), i
		}
	}
	if last < 0 || !sig.Variadic() || last != sig.Params().Len()-2 || forms[len(forms)-1] == "" || call.Ellipsis.IsValid() {
		return // it takes no form, or fills none, or hands on what it was given
	}
	if rest := sig.Params().At(last + 1).Type().(*types.Slice).Elem(); !types.IsInterface(rest) {
		return // it joins sayings
	}
	with := call.Args[last+1:]
	form := forms[len(forms)-1]
	n := len(forms)
	many := n > 1 && names[n-2] == "one" && names[n-1] == "many"
	verbs := verbs(form)
	if many {
		s.counted[form] = forms[n-2]
		if one := len(Verbs(forms[n-2])); one != len(verbs) && one != len(verbs)-1 {
			s.faults = append(s.faults, where+": the forms for one and for many differ in what fills them")
		}
		if len(verbs) > 0 {
			verbs = verbs[1:] // the number itself
		}
	}
	if len(with) != len(verbs) {
		s.faults = append(s.faults, fmt.Sprintf("%s: %q is filled with %d, not %d", where, form, len(with), len(verbs)))
		return
	}
	for i, w := range with {
		if fault := unfit(verbs[i], info.Types[w]); fault != "" {
			s.faults = append(s.faults, fmt.Sprintf("%s: %q: %s", where, form, fault))
		}
	}
}

// unfit says what is wrong with filling a verb with v.
func unfit(verb string, v types.TypeAndValue) string {
	basic, _ := v.Type.Underlying().(*types.Basic)
	if basic == nil {
		if verb == "%s" || verb == "%v" || verb == "%w" {
			return ""
		}
		return verb + " wants a number or a name"
	}
	switch is := basic.Info(); {
	case is&types.IsString != 0 && v.Value != nil && !strings.HasSuffix(v.Type.String(), ".Digits"):
		return "words in quotes would be said in every language: make them a form"
	case is&types.IsString != 0 && verb != "%s" && verb != "%q" && verb != "%v":
		return verb + " does not show a name"
	case is&types.IsInteger != 0 && verb != "%d":
		return verb + " does not show a whole number"
	case is&types.IsFloat != 0 && !strings.HasSuffix(verb, "f") && verb != "%g" && verb != "%v":
		return verb + " does not show a number"
	}
	return ""
}

func TestWhatFillsForms(t *testing.T) {
	s, err := source()
	if err != nil {
		t.Fatal(err)
	}
	if len(s.forms) < 200 {
		t.Fatalf("only %d forms were found", len(s.forms))
	}
	for _, f := range s.faults {
		t.Error(f)
	}
}
