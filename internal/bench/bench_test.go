package bench

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"platebook/internal/oracle"
)

// program builds platebook as it is shipped and returns its path.
func program(b *testing.B) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "platebook")
	cmd := exec.Command("go", "build", "-trimpath", "-o", path, "platebook/cmd/platebook")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("go build: %v\n%s", err, out)
	}
	return path
}

// outcome of running one program once.
type outcome struct {
	wall   time.Duration
	peakMB float64
	out    []byte
}

// measure runs a command; code is the exit code it should give.
func measure(b *testing.B, env []string, code int, name string, args ...string) outcome {
	b.Helper()
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), env...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	start := time.Now()
	_ = cmd.Run()
	wall := time.Since(start)
	if got := cmd.ProcessState.ExitCode(); got != code {
		b.Fatalf("%s: exit %d, want %d\n%s", name, got, code, errs.Bytes())
	}
	return outcome{wall, peakMB(cmd.ProcessState), out.Bytes()}
}

// tori writes a binary STL of n×n closed tori side by side, 12 000 facets each:
// in the order of the surface, or in no order at all, as scans and some
// exporters leave them.
func tori(b *testing.B, n int, shuffled bool) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "tori.stl")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	const around, across = 120, 50
	total := n * n * around * across * 2
	records := make([]byte, 0, 50*total)
	head := make([]byte, 84)
	binary.LittleEndian.PutUint32(head[80:], uint32(total))
	w.Write(head)
	at := func(i, j int, dx, dy float64) [3]float64 {
		si, ci := math.Sincos(2 * math.Pi * float64(i%around) / around)
		sj, cj := math.Sincos(2 * math.Pi * float64(j%across) / across)
		r := 5 + 2*cj
		return [3]float64{r*ci + dx, r*si + dy, 2*sj + 2}
	}
	var rec []byte
	for k := range n * n {
		dx, dy := 16*float64(k%n), 16*float64(k/n)
		for i := range around {
			for j := range across {
				a, c, d, e := at(i, j, dx, dy), at(i+1, j, dx, dy), at(i+1, j+1, dx, dy), at(i, j+1, dx, dy)
				for _, t := range [][3][3]float64{{a, c, d}, {a, d, e}} {
					rec = rec[:0]
					rec = append(rec, make([]byte, 12)...)
					for _, v := range t {
						for _, x := range v {
							rec = binary.LittleEndian.AppendUint32(rec, math.Float32bits(float32(x)))
						}
					}
					records = append(append(records, rec...), 0, 0)
				}
			}
		}
	}
	order := make([]int, total)
	for i := range order {
		order[i] = i
	}
	if shuffled {
		rand.New(rand.NewPCG(1, 2)).Shuffle(total, func(i, j int) { order[i], order[j] = order[j], order[i] })
	}
	for _, i := range order {
		w.Write(records[50*i : 50*i+50])
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	return path
}

// BenchmarkCheckLargeFile checks a 60 MB binary STL of 1.2 million facets and
// sets it against admesh's whole run on the same file. admesh is ten times
// faster when neighbours happen to stand side by side in the file; both are told.
func BenchmarkCheckLargeFile(b *testing.B) {
	b.Run("in no order", func(b *testing.B) { checkLarge(b, true) })
	b.Run("in surface order", func(b *testing.B) { checkLarge(b, false) })
}

func checkLarge(b *testing.B, shuffled bool) {
	admesh := oracle.Program(b, "admesh")
	platebook, file := program(b), tori(b, 10, shuffled)
	var ours, theirs time.Duration
	var peak float64
	for b.Loop() {
		o := measure(b, nil, 0, platebook, "check", file)
		ours += o.wall
		peak = max(peak, o.peakMB)
		theirs += measure(b, nil, 0, admesh, file).wall
	}
	b.ReportMetric(float64(theirs)/float64(ours), "times-faster")
	b.ReportMetric(float64(ours.Milliseconds())/float64(b.N), "ours-ms")
	b.ReportMetric(float64(theirs.Milliseconds())/float64(b.N), "theirs-ms")
	b.ReportMetric(peak, "peak-MB")
}

// BenchmarkQuoteBunny quotes the bunny, 80 mm tall in 0.2 mm layers, with two
// cores and with one, and holds the two answers against each other.
func BenchmarkQuoteBunny(b *testing.B) {
	platebook := program(b)
	file := oracle.NPM(b, "stl-models/objects/bunny.bin.stl")
	args := []string{"quote", "--json", "--tall", "80", "--layer-height", "0.2", "--supports", "breakaway", "--longest", "0", file}
	var two, one time.Duration
	var peak float64
	for b.Loop() {
		o := measure(b, []string{"GOMAXPROCS=2"}, 0, platebook, args...)
		two += o.wall
		peak = max(peak, o.peakMB)
		o1 := measure(b, []string{"GOMAXPROCS=1"}, 0, platebook, args...)
		one += o1.wall
		if !bytes.Equal(o.out, o1.out) || !strings.Contains(string(o.out), `"time_s"`) {
			b.Fatal("the answer depends on the number of cores, or is none")
		}
	}
	b.ReportMetric(float64(two.Milliseconds())/float64(b.N), "two-cores-ms")
	b.ReportMetric(float64(one)/float64(two), "gain-of-second-core")
	b.ReportMetric(peak, "peak-MB")
}
