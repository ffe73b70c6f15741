// Command platebook is the door: it reads flags, opens files and the desk, and
// wires the two wings together. It decides nothing itself.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"

	"github.com/alecthomas/kong"

	"platebook/desk"
)

// Exit codes, as scripts at a desk rely on them.
const (
	exitPrintable = 0
	exitStopped   = 1 // a finding stops at least one file
	exitBadUse    = 2 // wrong words, or a file that is not there
)

type program struct {
	Check    checkCommand    `cmd:"" help:"Say whether files can be printed, and what will go wrong."`
	Quote    quoteCommand    `cmd:"" help:"Say what files weigh, how long they take, and what they cost."`
	Picture  pictureCommand  `cmd:"" help:"Draw a part, with what the findings point at."`
	Ways     waysCommand     `cmd:"" help:"Offer the few ways to print a part that matter, within time and budget."`
	Pack     packCommand     `cmd:"" help:"Lay the copies of files out on as few plates as they need."`
	Likeness likenessCommand `cmd:"" help:"Show which of some files a file is like, whatever its size and turn."`
	Serve    serveCommand    `cmd:"" group:"desk" help:"Open the desk of a library."`
	Backup   backupCommand   `cmd:"" group:"desk" help:"Copy everything a desk keeps into one file, while it goes on."`
	Restore  restoreCommand  `cmd:"" group:"desk" help:"Check a backup, and put it into a new folder."`
	Demo     demoCommand     `cmd:"" group:"desk" help:"Open the desk of Larkmere Libraries, an invented service, with a few dozen requests."`
	Profiles profilesCommand `cmd:"" help:"List the profiles every default comes from, or show one as TOML."`
	Parts    partsCommand    `cmd:"" help:"Make the parts of the patrons of Larkmere Libraries, an invented service, and quote them all."`
	Compute  computeCommand  `cmd:"" hidden:"" help:"Compute one task of a desk's background work."`
	Version  versionCommand  `cmd:"" help:"Say which Platebook this is."`
}

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// streams are where a command writes.
type streams struct{ out, err io.Writer }

// stopped is returned by a command that did its work and found a file that
// cannot be printed.
var errStopped = errors.New("a finding stops the print")

func run(args []string, out, errOut io.Writer) int {
	var p program
	exit := -1
	parser, err := kong.New(&p,
		kong.Name("platebook"),
		kong.Description("A public library's 3D-printing desk: from a patron's model file to the hold shelf."),
		kong.Vars{"folder": usualFolder()},
		kong.ExplicitGroups([]kong.Group{{Key: "desk", Title: "The desk:"}}),
		kong.Writers(out, errOut),
		kong.Exit(func(code int) { exit = code }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 96}),
		kong.Bind(&streams{out, errOut}),
	)
	if err != nil {
		fmt.Fprintln(errOut, "platebook:", err)
		return exitBadUse
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	ctx, err := parser.Parse(args)
	if exit >= 0 { // help was asked for and given
		return exit
	}
	if err == nil {
		err = ctx.Run()
	}
	switch {
	case err == nil:
		return exitPrintable
	case errors.Is(err, errStopped):
		return exitStopped
	}
	if !errors.Is(err, errComplained) {
		complain(errOut, err)
	}
	return exitBadUse
}

// errComplained is returned when what is wrong was said already.
var errComplained = errors.New("said already")

// complain says what is wrong, as text: a file's name may hold anything. Of a
// Fault the sentence comes first; what the machine said stands behind it, for
// whoever starts the desk looks after the machine as well.
func complain(w io.Writer, err error) {
	say := err.Error()
	var f *desk.Fault
	if errors.As(err, &f) {
		if say = f.Say; f.Err != nil {
			say += " (" + f.Err.Error() + ")"
		}
	}
	fmt.Fprintf(w, "platebook: %s\n", plain(say))
}

type versionCommand struct{}

func (versionCommand) Run(s *streams) error {
	_, err := fmt.Fprintln(s.out, "Platebook", version())
	return err
}

// version is the module's version as the build recorded it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "(built from source)"
	}
	return info.Main.Version
}
