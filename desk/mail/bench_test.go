package mail

import (
	"encoding/base64"
	"fmt"
	"io"
	"runtime"
	"testing"

	"platebook/desk"
)

// BenchmarkLargeEnclosure reads a letter with a 60 MB enclosure as it comes
// from a connection, and reports the most memory that was in use beside.
func BenchmarkLargeEnclosure(b *testing.B) {
	const size = 60 << 20
	for b.Loop() {
		r, w := io.Pipe()
		go func() {
			fmt.Fprintf(w, "From: a@patrons.example\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: model/stl; name=a.stl\r\nContent-Transfer-Encoding: base64\r\n\r\n")
			line := []byte(base64.StdEncoding.EncodeToString(make([]byte, 57)) + "\r\n")
			for range size / 57 {
				if _, err := w.Write(line); err != nil {
					return
				}
			}
			fmt.Fprintf(w, "--b--\r\n")
			w.Close()
		}()
		var before, now runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		most, n := uint64(0), int64(0)
		keep := func(_ string, r io.Reader) (desk.Hash, int64, error) {
			buf := make([]byte, 1<<16)
			for chunk := 0; ; chunk++ {
				k, err := r.Read(buf)
				n += int64(k)
				if chunk%256 == 0 {
					runtime.ReadMemStats(&now)
					most = max(most, now.HeapAlloc)
				}
				if err == io.EOF {
					return "h", n, nil
				}
				if err != nil {
					return "", n, err
				}
			}
		}
		l, err := Read(r, keep, nil, UsualLimits())
		if err != nil || len(l.Files) != 1 || n != size/57*57 {
			b.Fatalf("%v, %d bytes, %+v", err, n, l)
		}
		b.ReportMetric(float64(int64(most)-int64(before.HeapAlloc))/1e6, "MB-heap")
		b.SetBytes(n)
	}
}
