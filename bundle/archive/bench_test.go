package archive

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// wavyTorus writes a binary STL of 2*n*m facets with honest normals and shared corners, which packs
// as meshes from CAD do.
func wavyTorus(w io.Writer, n, m int, waves float64) {
	b := make([]byte, 84, 84+100*n*m)
	binary.LittleEndian.PutUint32(b[80:], uint32(2*n*m))
	at := func(i, j int) [3]float64 {
		u, v := 2*math.Pi*float64(i%n)/float64(n), 2*math.Pi*float64(j%m)/float64(m)
		r := 12 + 2*math.Sin(waves*u)*math.Cos(5*v)
		return [3]float64{(40 + r*math.Cos(v)) * math.Cos(u), (40 + r*math.Cos(v)) * math.Sin(u), r * math.Sin(v)}
	}
	facet := func(p, q, r [3]float64) {
		var d, e [3]float64
		for k := range 3 {
			d[k], e[k] = q[k]-p[k], r[k]-p[k]
		}
		normal := [3]float64{d[1]*e[2] - d[2]*e[1], d[2]*e[0] - d[0]*e[2], d[0]*e[1] - d[1]*e[0]}
		l := math.Sqrt(normal[0]*normal[0] + normal[1]*normal[1] + normal[2]*normal[2])
		for _, x := range [][3]float64{{normal[0] / l, normal[1] / l, normal[2] / l}, p, q, r} {
			for k := range 3 {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x[k])))
			}
		}
		b = append(b, 0, 0)
	}
	for i := range n {
		for j := range m {
			facet(at(i, j), at(i+1, j), at(i+1, j+1))
			facet(at(i, j), at(i+1, j+1), at(i, j+1))
		}
	}
	w.Write(b)
}

// corpus writes the mixture that a bundle is measured by: by bytes 60 % binary STL, 25 % JPEG,
// 10 % 3MF, 5 % text.
func corpus(b *testing.B, dir string, total int) []Entry {
	var entries []Entry
	fill := func(ext string, share float64, make func(w io.Writer, n int)) {
		for done, n := 0, 0; done < int(share*float64(total)); n++ {
			var buf bytes.Buffer
			make(&buf, n)
			name := fmt.Sprintf("%s-%02d%s", ext[1:], n, ext)
			if err := os.WriteFile(filepath.Join(dir, name), buf.Bytes(), 0o644); err != nil {
				b.Fatal(err)
			}
			done += buf.Len()
			entries = append(entries, Entry{Path: name, Open: func() (io.ReadCloser, error) { return os.Open(filepath.Join(dir, name)) }})
		}
	}
	// Sizes from 1 to 20 MB, as a season has them.
	fill(".stl", 0.60, func(w io.Writer, n int) { wavyTorus(w, 100+150*(n%5), 100+100*(n%3), float64(3+n)) })
	fill(".jpg", 0.25, func(w io.Writer, n int) {
		r := rand.New(rand.NewPCG(uint64(n), 0))
		img := image.NewYCbCr(image.Rect(0, 0, 3000, 2000), image.YCbCrSubsampleRatio420)
		for i := range img.Y {
			img.Y[i] = byte(128 + 60*math.Sin(float64(i%3000)/90) + 12*r.NormFloat64())
		}
		jpeg.Encode(w, img, &jpeg.Options{Quality: 90})
	})
	fill(".3mf", 0.10, func(w io.Writer, n int) { w.Write(noise(4<<20, uint64(n))) })
	fill(".txt", 0.05, func(w io.Writer, n int) {
		r := rand.New(rand.NewPCG(uint64(n), 0))
		words := strings.Fields("the case sits on its screws hand tight until flush then let it cool before you touch M3x8 M2.5x5 insert board lead pin step 12 mm 0.2 PETG part arm cheek window")
		for range 400_000 {
			fmt.Fprintf(w, "%s%d ", words[r.IntN(len(words))], r.IntN(50))
		}
	})
	return entries
}

// BenchmarkAgainstZip packs 500 MB (50 with -short) by `zip -6` and by Write in turn and reports how
// many times faster Write is, how much larger its result, in percent, the most memory this process has
// had, in MB, and how much processor time zip took for each second of ours.
func BenchmarkAgainstZip(b *testing.B) {
	zip := tool(b, "zip")
	total := 500_000_000
	if testing.Short() {
		total /= 10
	}
	dir := b.TempDir()
	entries := corpus(b, dir, total)
	resetPeak()
	b.SetBytes(int64(total))
	var theirs, ours time.Duration
	var theirSize, ourSize int64
	ownBefore, childBefore := processorTime()
	for b.Loop() {
		target := filepath.Join(b.TempDir(), "theirs.zip")
		begin := time.Now()
		if out, err := exec.Command(zip, "-q", "-6", "-r", target, dir).CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
		theirs += time.Since(begin)
		info, err := os.Stat(target)
		if err != nil {
			b.Fatal(err)
		}
		theirSize = info.Size()
		target = filepath.Join(b.TempDir(), "ours.zip")
		begin = time.Now()
		_, err = WriteFile(target, FileOptions{}, func(w io.Writer) error {
			res, err := Write(b.Context(), w, entries, Options{Top: "bench", Time: noon})
			ourSize = res.Bytes
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
		ours += time.Since(begin)
	}
	b.ReportMetric(theirs.Seconds()/ours.Seconds(), "times-faster")
	b.ReportMetric(100*(float64(ourSize)/float64(theirSize)-1), "%larger")
	b.ReportMetric(peakMB(), "MB-peak")
	if own, child := processorTime(); own > ownBefore {
		// On a busy machine the time on the clock says nothing; this ratio times the number of free cores is what it would be.
		b.ReportMetric((child-childBefore)/(own-ownBefore), "x-cpu")
	}
	b.ReportMetric(0, "ns/op") // of both together: says nothing
}

// resetPeak has Linux count the peak of memory anew (proc(5), clear_refs).
func resetPeak() {
	os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) // where it cannot, the figure is too high
}

// peakMB is the most resident memory this process has had, 0 where the system does not say.
func peakMB() float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kb, err := strconv.Atoi(strings.Fields(rest)[0])
			if err == nil {
				return float64(kb) / 1000
			}
		}
	}
	return 0
}

// processorTime is what this process and the ones it waited for took, in clock ticks (proc(5), stat: fields 14 to 17);
// 0 where the system does not say.
func processorTime() (own, children float64) {
	stat, err := os.ReadFile("/proc/self/stat")
	if err != nil {
		return 0, 0
	}
	fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
	if len(fields) < 15 {
		return 0, 0
	}
	var t [4]float64
	for i := range t {
		t[i], _ = strconv.ParseFloat(fields[11+i], 64) // the third field is the first after the name
	}
	return t[0] + t[1], t[2] + t[3]
}

func BenchmarkVerify(b *testing.B) {
	data, _ := write(b, sample(), Options{})
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		rep, err := Verify(b.Context(), bytes.NewReader(data), int64(len(data)))
		if err != nil || len(rep.Problems) > 0 {
			b.Fatal(err, rep)
		}
	}
}
