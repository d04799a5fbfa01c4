package archive

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// noon is a time for bundles in tests; its zone must not matter.
var noon = time.Date(2027, 1, 20, 12, 0, 0, 0, time.UTC)

// tool gives the path of an outside program, or skips loudly; where DROPWRIGHT_CI is set it fails.
func tool(t testing.TB, name string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("%s is not installed, and DROPWRIGHT_CI is set", name)
		}
		t.Skipf("SKIPPED, NOTHING CHECKED: %s is not installed", name)
	}
	return p
}

// stl is binary STL of n facets of a wavy sheet, which packs like a real mesh.
func stl(n int, seed uint64) []byte {
	r := rand.New(rand.NewPCG(seed, 1))
	b := make([]byte, 84, 84+50*n)
	binary.LittleEndian.PutUint32(b[80:], uint32(n))
	x := float32(0)
	for range n {
		for k := range 12 {
			v := x + float32(k) + float32(r.IntN(8))/8
			b = binary.LittleEndian.AppendUint32(b, uint32(int32(v*1024)))
		}
		b = append(b, 0, 0)
		x += 0.125
	}
	return b
}

func noise(n int, seed uint64) []byte {
	b := make([]byte, n)
	rand.NewChaCha8([32]byte{byte(seed)}).Read(b)
	return b
}

// sample is a small bundle with one of everything.
func sample() []Entry {
	return []Entry{
		{Path: "meshes/case-ce.stl", Data: stl(2000, 1)},
		{Path: "photos/front.jpg", Data: noise(70_000, 3)},
		{Path: "README.txt", Data: []byte(strings.Repeat("Hand tight.\n", 100))},
		{Path: "meshes/Cafe\u0301.3mf", Data: noise(5000, 4)}, // decomposed on purpose
		{Path: "empty.txt"},
		{Path: "sheet.html", Data: []byte("<p>sheet</p>")},
	}
}

// large is sample with files of more than one block and past a ratio that Read would refuse.
func large() []Entry {
	return append(sample(), Entry{Path: "meshes/case-stack.stl", Data: stl(60_000, 2)}, Entry{Path: "zeros.bin", Data: make([]byte, 3<<20)})
}

func write(t testing.TB, entries []Entry, opt Options) ([]byte, Result) {
	t.Helper()
	if opt.Top == "" {
		opt.Top = "vent-minder-1.0.0"
	}
	if opt.Time.IsZero() {
		opt.Time = noon
	}
	var b bytes.Buffer
	res, err := Write(context.Background(), &b, entries, opt)
	if err != nil {
		t.Fatal(err)
	}
	if res.Bytes != int64(b.Len()) {
		t.Errorf("says %d bytes, wrote %d", res.Bytes, b.Len())
	}
	return b.Bytes(), res
}

func onDisk(t testing.TB, data []byte) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "bundle.zip")
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

// TestOutsideReaders lets programs that know nothing of us judge a zip, and the same zip with one
// byte turned over, which each must reject.
func TestOutsideReaders(t *testing.T) {
	data, res := write(t, large(), Options{})
	good := onDisk(t, data)
	at := bytes.Index(data, []byte("meshes/case-ce.stl")) + 5000 // inside deflated content
	bad := slices.Clone(data)
	bad[at] ^= 0x10
	broken := onDisk(t, bad)

	t.Run("unzip -t", func(t *testing.T) {
		unzip := tool(t, "unzip")
		if out, err := exec.Command(unzip, "-t", good).CombinedOutput(); err != nil || !strings.Contains(string(out), "No errors detected") {
			t.Errorf("%v: %s", err, out)
		}
		if out, err := exec.Command(unzip, "-t", broken).CombinedOutput(); err == nil {
			t.Errorf("the damaged zip passed: %s", out)
		}
	})
	t.Run("sha256sum -c", func(t *testing.T) {
		unzip, sum := tool(t, "unzip"), tool(t, "sha256sum")
		dir := t.TempDir()
		if out, err := exec.Command(unzip, "-q", good, "-d", dir).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		top := filepath.Join(dir, "vent-minder-1.0.0")
		check := func() ([]byte, error) {
			c := exec.Command(sum, "--strict", "-c", SumsName)
			c.Dir = top
			return c.CombinedOutput()
		}
		if out, err := check(); err != nil || strings.Count(string(out), ": OK\n") != len(res.Files)-1 {
			t.Errorf("%v: %s", err, out)
		}
		rep, err := VerifyFolder(t.Context(), os.DirFS(top))
		if err != nil || len(rep.Problems) > 0 || rep.Digest != res.Digest {
			t.Errorf("folder: %v %v", err, rep)
		}
		if err := os.WriteFile(filepath.Join(top, "sheet.html"), []byte("other"), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := check(); err == nil {
			t.Errorf("the changed file passed: %s", out)
		}
		rep, err = VerifyFolder(t.Context(), os.DirFS(top))
		if err != nil || len(rep.Problems) != 1 || rep.Problems[0].Kind != FileChanged {
			t.Errorf("folder with a changed file: %v %v", err, rep.Problems)
		}
	})
	t.Run("python zipfile", func(t *testing.T) {
		python := tool(t, "python3")
		const script = `
import sys, zipfile, json
z = zipfile.ZipFile(sys.argv[1])
bad = z.testzip()
if bad: sys.exit("damaged: " + bad)
for i in z.infolist():
    assert i.date_time == (2027, 1, 20, 12, 0, 0), i.date_time
    assert i.create_system == 3 and i.create_version == 20 and i.external_attr == 0o100644 << 16, i
    assert i.extra == b"" and i.comment == b"" and not i.is_dir(), i
    assert (i.flag_bits == 0x800) == (not i.filename.isascii()) and i.flag_bits in (0, 0x800), i
    print(i.filename)
`
		out, err := exec.Command(python, "-c", script, good).CombinedOutput()
		if err != nil {
			t.Errorf("%v: %s", err, out)
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		if !slices.IsSorted(lines) || len(lines) != len(res.Files) {
			t.Errorf("names: %q", lines)
		}
		if out, err := exec.Command(python, "-c", script, broken).CombinedOutput(); err == nil {
			t.Errorf("the damaged zip passed: %s", out)
		}
	})
	t.Run("strip-nondeterminism", func(t *testing.T) {
		strip := inUTC(tool(t, "strip-nondeterminism"))
		run := func(data []byte) []byte {
			name := onDisk(t, data)
			if out, err := strip.run("-t", "zip", "-T", fmt.Sprint(noon.Unix()), name); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			after, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			return after
		}
		if !bytes.Equal(run(data), data) {
			t.Error("it found something to change")
		}
		// The wrong input: a zip whose time is another than that of the bundle.
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		w, err := z.CreateHeader(&zip.FileHeader{Name: "a.txt", Modified: noon.AddDate(0, 0, 1)})
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, "a")
		z.Close()
		if bytes.Equal(run(b.Bytes()), b.Bytes()) {
			t.Error("it leaves any zip as it is, so it proves nothing")
		}
	})
}

// inUTC is a program that takes the times in a zip, which have no zone, for UTC.
type inUTC string

func (p inUTC) run(args ...string) ([]byte, error) {
	c := exec.Command(string(p), args...)
	c.Env = append(os.Environ(), "TZ=UTC")
	return c.CombinedOutput()
}

// TestDigestByHand builds the text of the package comment with the shell's tools.
func TestDigestByHand(t *testing.T) {
	sh, _ := tool(t, "sh"), tool(t, "sha256sum")
	const script = `export LC_ALL=C; mkdir a; printf 'one' > a/x.txt; printf 'three' > B.txt
{ echo dropwright-content-1; for f in B.txt a/x.txt; do set -- $(sha256sum $f); echo "$1 $(wc -c < $f | tr -d ' ') $f"; done; } | sha256sum | cut -c1-64`
	c := exec.Command(sh, "-c", script)
	c.Dir = t.TempDir()
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	_, res := write(t, []Entry{{Path: "a/x.txt", Data: []byte("one")}, {Path: "B.txt", Data: []byte("three")}}, Options{})
	if got := strings.TrimSpace(string(out)); got != res.Digest.String() {
		t.Errorf("by hand %s, by Write %s", got, res.Digest)
	}
	// The value is written down too: it may never change.
	const forEver = "0abc1855a198f1dc07a1d3dc3e28415d42df9a51e7d4bcf1448440bd098f618e"
	if res.Digest.String() != forEver {
		t.Errorf("digest %s, for ever %s", res.Digest, forEver)
	}
}

// TestSameBytes varies what must not matter: order, zone, number of workers, source of the bytes,
// signing leaves the digest.
func TestSameBytes(t *testing.T) {
	want, res := write(t, large(), Options{})
	zone := time.FixedZone("far", 13*3600)
	defer func(old *time.Location) { time.Local = old }(time.Local)
	time.Local = zone
	for _, workers := range []int{1, 2, 7} {
		entries := large()
		rand.New(rand.NewPCG(uint64(workers), 0)).Shuffle(len(entries), func(i, j int) { entries[i], entries[j] = entries[j], entries[i] })
		for i := range entries {
			data := entries[i].Data
			entries[i] = Entry{Path: entries[i].Path, Open: func() (io.ReadCloser, error) {
				return io.NopCloser(io.MultiReader(bytes.NewReader(data[:len(data)/3]), bytes.NewReader(data[len(data)/3:]))), nil
			}}
		}
		got, again := write(t, entries, Options{Time: noon.In(zone).Add(time.Second), Workers: workers})
		if !bytes.Equal(got, want) || again.Digest != res.Digest {
			t.Errorf("%d workers: other bytes", workers)
		}
	}
	_, signed := write(t, large(), Options{Sign: func(sums []byte) ([]byte, error) {
		if !bytes.Equal(sums, res.Sums) {
			t.Error("another text is given to be signed than is packed")
		}
		return []byte("signature"), nil
	}})
	if signed.Digest != res.Digest || len(signed.Files) != len(res.Files)+1 {
		t.Error("signing changed the digest or added no file")
	}
	_, later := write(t, large(), Options{Time: noon.AddDate(1, 0, 0), Top: "other-top"})
	if later.Digest != res.Digest {
		t.Error("time or top folder changed the digest")
	}
	other := large()
	other[2].Data = []byte("another text")
	if _, changed := write(t, other, Options{}); changed.Digest == res.Digest {
		t.Error("another content has the same digest")
	}
}

// TestLargeFile packs a file in blocks, held and not held, and one that does not shrink.
func TestLargeFile(t *testing.T) {
	if testing.Short() {
		t.Skip("60 MB")
	}
	big := stl(200_000, 5) // 10 MB, past smallFile
	data, _ := write(t, []Entry{{Path: "big.stl", Data: big}, {Path: "noise.bin", Data: noise(5<<20, 6)}, {Path: "photo.jpg", Data: noise(6<<20, 7)}}, Options{})
	rep, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)))
	if err != nil || len(rep.Problems) > 0 {
		t.Fatal(err, rep)
	}
	// Not held: noise in a text file whose blocks pass heldMax, with enough zeros to be worth it.
	mixed := append(noise(heldMax+5<<20, 8), make([]byte, 8<<20)...)
	data, _ = write(t, []Entry{{Path: "mixed.bin", Data: mixed}}, Options{})
	if len(data) >= len(mixed) {
		t.Error("was not deflated")
	}
	rep, err = Verify(t.Context(), bytes.NewReader(data), int64(len(data)))
	if err != nil || len(rep.Problems) > 0 || rep.Files[1].SHA256 != sha256.Sum256(mixed) {
		t.Fatal(err, rep)
	}
}

// TestChanging gives other bytes at the second reading: longer, shorter, changed; small and large,
// stored and deflated. The second opening is the packing.
func TestChanging(t *testing.T) {
	for _, size := range []int{1000, smallFile + 1000} {
		for _, name := range []string{"a.stl", "a.jpg"} {
			for what, change := range map[string]func([]byte) []byte{
				"longer":  func(b []byte) []byte { return append(b, 1) },
				"shorter": func(b []byte) []byte { return b[:len(b)-1] },
				"other":   func(b []byte) []byte { b[len(b)/2] ^= 1; return b },
			} {
				opened := 0
				e := Entry{Path: name, Open: func() (io.ReadCloser, error) {
					data := bytes.Repeat([]byte{1, 2, 3, 5}, size/4)
					if opened++; opened > 1 {
						data = change(data)
					}
					return io.NopCloser(bytes.NewReader(data)), nil
				}}
				_, err := Write(t.Context(), io.Discard, []Entry{e}, Options{Top: "t", Time: noon})
				var changed *ChangedError
				if !errors.As(err, &changed) || changed.Path != name {
					t.Errorf("%s of %d bytes, %s: %v", name, size, what, err)
				}
			}
		}
	}
}

func TestWriteErrors(t *testing.T) {
	broken := errors.New("disk is gone")
	one := []Entry{{Path: "a.txt", Data: []byte("a")}}
	fails := Entry{Path: "b.txt", Open: func() (io.ReadCloser, error) { return nil, broken }}
	opt := Options{Top: "t", Time: noon}
	if _, err := Write(t.Context(), io.Discard, append(one, fails), opt); !errors.Is(err, broken) || !strings.Contains(err.Error(), `"b.txt"`) {
		t.Errorf("open: %v", err)
	}
	signing := opt
	signing.Sign = func([]byte) ([]byte, error) { return nil, broken }
	if _, err := Write(t.Context(), io.Discard, one, signing); !errors.Is(err, broken) {
		t.Errorf("sign: %v", err)
	}
	data, _ := write(t, sample(), Options{})
	for _, room := range []int{0, 10, 100, len(data) / 2, len(data) - 1} {
		if _, err := Write(t.Context(), &fullWriter{room}, sample(), Options{Top: "vent-minder-1.0.0", Time: noon}); !errors.Is(err, errFull) {
			t.Errorf("disk full after %d bytes: %v", room, err)
		}
	}
	for _, year := range []int{1, 1970, 1979, 2108} {
		if _, err := Write(t.Context(), io.Discard, one, Options{Top: "t", Time: noon.AddDate(year-2027, 0, 0)}); err == nil {
			t.Errorf("the year %d was taken", year)
		}
	}
	stopped, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Write(stopped, io.Discard, sample(), opt); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
	if _, err := Write(t.Context(), io.Discard, nil, opt); err == nil {
		t.Error("packed nothing")
	}
	many := make([]Entry, MaxEntries)
	for i := range many {
		many[i].Path = fmt.Sprint(i)
	}
	var probs *Problems
	if _, err := Write(t.Context(), io.Discard, many, opt); !errors.As(err, &probs) || probs.List[0].Kind != TooMany {
		t.Errorf("%d entries: %v", len(many), err)
	}
}

var errFull = errors.New("disk full")

type fullWriter struct{ room int }

func (f *fullWriter) Write(p []byte) (int, error) {
	if f.room -= len(p); f.room < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func runGo(args ...string) (string, error) {
	out, err := exec.Command("go", args...).Output()
	return string(out), err
}
