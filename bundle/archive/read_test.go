package archive

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"hash/crc32"
	"io"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
)

// zipOf makes a zip by the standard library from headers that a test has bent.
func zipOf(t testing.TB, entries ...bent) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, e := range entries {
		h := &zip.FileHeader{
			Name: e.name, Method: e.method, CreatorVersion: 3<<8 | 20, ReaderVersion: 20, ExternalAttrs: 0o100644 << 16,
		}
		packed := []byte(e.text)
		if e.method == zip.Deflate {
			var d bytes.Buffer
			w, _ := flate.NewWriter(&d, 9)
			io.WriteString(w, e.text)
			w.Close()
			packed = d.Bytes()
		}
		h.CRC32 = crc32.ChecksumIEEE([]byte(e.text))
		h.CompressedSize64, h.UncompressedSize64 = uint64(len(packed)), uint64(len(e.text))
		if e.bend != nil {
			e.bend(h)
		}
		w, err := z.CreateRaw(h)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(e.name, "/") {
			w.Write(packed)
		}
	}
	z.Close()
	return b.Bytes()
}

type bent struct {
	name, text string
	method     uint16
	bend       func(*zip.FileHeader)
}

func kinds(list []Problem) []string {
	var out []string
	for _, p := range list {
		if !slices.Contains(out, p.Kind) {
			out = append(out, p.Kind)
		}
	}
	slices.Sort(out)
	return out
}

// TestHostile feeds zips made to attack; each must be refused by name, and the plain one not.
func TestHostile(t *testing.T) {
	plain := bent{name: "t/a.txt", text: "hello"}
	good := zipOf(t, plain, bent{name: "t/b.txt", text: strings.Repeat("hello ", 100), method: zip.Deflate})
	edit := func(f func(b []byte) []byte) []byte { return f(slices.Clone(good)) }
	dirAt := bytes.Index(good, []byte("PK\x01\x02"))
	endAt := len(good) - endLen
	mode := func(m uint32) func(*zip.FileHeader) {
		return func(h *zip.FileHeader) { h.ExternalAttrs = m << 16 }
	}
	for _, c := range []struct {
		name string
		zip  []byte
		kind string // "" for none; of structure or of content
	}{
		{"plain", good, ""},
		{"empty", nil, NotZip},
		{"text", []byte(strings.Repeat("no zip ", 100)), NotZip},
		{"no files", zipOf(t), TooMany},
		{"cut short", good[:len(good)-30], NotZip},
		{"traversal", zipOf(t, bent{name: "t/../../x", text: "x"}), NameUnsafe},
		{"top is ..", zipOf(t, bent{name: "../x", text: "x"}), NameUnsafe},
		{"absolute", zipOf(t, bent{name: "/etc/x", text: "x"}), NameEmpty},
		{"absolute below", zipOf(t, bent{name: "t//etc/x", text: "x"}), NameUnsafe},
		{"backslash", zipOf(t, bent{name: `t/..\..\x`, text: "x"}), NameChar},
		{"drive", zipOf(t, bent{name: `t/C:/x`, text: "x"}), NameUnsafe},
		{"device", zipOf(t, bent{name: `t/nul`, text: "x"}), NameReserved},
		{"outside of the top", zipOf(t, plain, bent{name: "x", text: "x"}), NotOurs},
		{"two tops", zipOf(t, plain, bent{name: "u/x", text: "x"}), NotOurs},
		{"twins", zipOf(t, plain, plain), NameTwin},
		{"case twins", zipOf(t, bent{name: "t/A.txt", text: "x"}, plain), NameTwin},
		{"file and folder", zipOf(t, bent{name: "t/a", text: "x"}, bent{name: "t/a/b", text: "x"}), NameTwin},
		{"decomposed", zipOf(t, bent{name: "t/cafe\u0301", text: "x"}), NameForm},
		{"not sorted", zipOf(t, bent{name: "t/b", text: "x"}, bent{name: "t/a", text: "x"}), NotOurs},
		{"symbolic link", zipOf(t, bent{name: "t/a", text: "/etc/passwd", bend: mode(0o120777)}), NotPlain},
		{"device file", zipOf(t, bent{name: "t/a", text: "x", bend: mode(0o060644)}), NotPlain},
		{"folder entry", zipOf(t, bent{name: "t/a/", bend: mode(0o040755)}), NotPlain},
		{"from Windows", zipOf(t, bent{name: "t/a", text: "x", bend: func(h *zip.FileHeader) { h.CreatorVersion = 20 }}), NotOurs},
		{"extra field", zipOf(t, bent{name: "t/a", text: "x", bend: func(h *zip.FileHeader) { h.Extra = []byte{0x55, 0x54, 1, 0, 0} }}), NotOurs},
		{"file comment", zipOf(t, bent{name: "t/a", text: "x", bend: func(h *zip.FileHeader) { h.Comment = "psst" }}), NotOurs},
		{"encrypted", zipOf(t, bent{name: "t/a", text: "x", bend: func(h *zip.FileHeader) { h.Flags = 1 }}), BadMethod},
		{"method 12", zipOf(t, bent{name: "t/a", text: "x", bend: func(h *zip.FileHeader) { h.Method = 12 }}), BadMethod},
		{"stored, two sizes", zipOf(t, bent{name: "t/a", text: "x", bend: func(h *zip.FileHeader) { h.UncompressedSize64 = 5 }}), Disagrees},
		{"bomb by header", zipOf(t, bent{name: "t/a", text: strings.Repeat("0", 5<<20), method: zip.Deflate}), TooDense},
		{"bomb that lies", zipOf(t, bent{name: "t/a", text: strings.Repeat("0", 5<<20), method: zip.Deflate, bend: func(h *zip.FileHeader) { h.UncompressedSize64 = 1000 }}), BadContent},
		{"shorter than said", zipOf(t, bent{name: "t/a", text: "hello", method: zip.Deflate, bend: func(h *zip.FileHeader) { h.UncompressedSize64 = 6 }}), BadContent},
		{"wrong CRC", zipOf(t, bent{name: "t/a", text: "hello", bend: func(h *zip.FileHeader) { h.CRC32++ }}), BadContent},
		{"no deflate", zipOf(t, bent{name: "t/a", text: "\xff\xff\xff", bend: func(h *zip.FileHeader) { h.Method = zip.Deflate }}), BadContent},
		{"bytes behind the deflate stream", edit(func(b []byte) []byte {
			// The packed size of the second file grows by the four bytes put behind it.
			return zipOf(t, bent{name: "t/a", text: "\x03\x00psst", bend: func(h *zip.FileHeader) {
				h.Method, h.UncompressedSize64, h.CRC32 = zip.Deflate, 0, 0
			}})
		}), BadContent},
		{"comment", edit(func(b []byte) []byte { b[endAt+20] = 4; return append(b, "psst"...) }), HiddenData},
		{"data after", edit(func(b []byte) []byte { return append(b, "psst"...) }), HiddenData},
		{"data before", edit(func(b []byte) []byte { return append([]byte("#!/bin/sh\n"), b...) }), HiddenData},
		{"hidden between", edit(func(b []byte) []byte {
			b = slices.Insert(b, dirAt, []byte("psst")...)
			b[endAt+4+16] += 4 // offset of the directory
			return b
		}), HiddenData},
		{"local name differs", edit(func(b []byte) []byte { b[localLen+2] = 'x'; return b }), Disagrees},
		{"local size differs", edit(func(b []byte) []byte { b[22]++; return b }), Disagrees},
		{"local signature", edit(func(b []byte) []byte { b[0] = 'Q'; return b }), HiddenData},
		{"directory signature", edit(func(b []byte) []byte { b[dirAt] = 'Q'; return b }), NotZip},
		{"count of files too high", edit(func(b []byte) []byte { b[endAt+8]++; b[endAt+10]++; return b }), NotZip},
		{"count of files too low", edit(func(b []byte) []byte { b[endAt+8]--; b[endAt+10]--; return b }), HiddenData},
		{"60,000 files claimed", edit(func(b []byte) []byte {
			copy(b[endAt+8:], []byte{0x60, 0xea, 0x60, 0xea})
			return b
		}), TooMany},
		{"Zip64", edit(func(b []byte) []byte { copy(b[endAt+16:], []byte{255, 255, 255, 255}); return b }), NotOurs},
	} {
		rep, err := Verify(t.Context(), bytes.NewReader(c.zip), int64(len(c.zip)))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := kinds(rep.Problems)
		got = slices.DeleteFunc(got, func(k string) bool { return k == NoSums })
		if c.kind == "" && len(got) > 0 || c.kind != "" && !slices.Contains(got, c.kind) {
			t.Errorf("%s: got %v, want %q: %v", c.name, got, c.kind, rep.Problems)
		}
	}
}

// TestOutsideZips reads every sample zip of Go's own archive/zip: none crashes, all are refused,
// since no bundle is among them.
func TestOutsideZips(t *testing.T) {
	dir := os.DirFS(goroot(t) + "/src/archive/zip/testdata")
	list, err := os.ReadDir(goroot(t) + "/src/archive/zip/testdata")
	if err != nil {
		t.Skipf("SKIPPED, NOTHING CHECKED: no sources of Go here: %v", err)
	}
	n := 0
	for _, e := range list {
		if !strings.HasSuffix(e.Name(), ".zip") {
			continue
		}
		n++
		data, err := readLimited(dir, e.Name(), 1<<20)
		if err != nil {
			t.Fatal(err)
		}
		rep, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)))
		if err != nil || len(rep.Problems) == 0 {
			t.Errorf("%s: %v, %v", e.Name(), err, rep)
		}
	}
	if n < 20 {
		t.Errorf("only %d samples", n)
	}
}

func TestVerifyNamesWhatChanged(t *testing.T) {
	data, res := write(t, sample(), Options{Sign: func([]byte) ([]byte, error) { return []byte("sig"), nil }})
	rep, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)))
	if err != nil || len(rep.Problems) > 0 || rep.Digest != res.Digest || rep.Top != "vent-minder-1.0.0" ||
		!bytes.Equal(rep.Sums, res.Sums) || string(rep.Signature) != "sig" || !slices.Equal(rep.Files, res.Files) {
		t.Fatalf("%v %v", err, rep)
	}
	// repack makes the zip anew from its files after change has had them, as an attacker would.
	repack := func(change func(map[string]string)) *Report {
		a, err := Read(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		files := map[string]string{}
		for _, p := range a.Paths() {
			text, err := a.ReadFile(p, 1<<30)
			if err != nil {
				t.Fatal(err)
			}
			files[p] = string(text)
		}
		change(files)
		var list []bent
		for p, text := range files {
			list = append(list, bent{name: "t/" + p, text: text, bend: func(h *zip.FileHeader) {
				if !isASCII(p) {
					h.Flags = 0x800
				}
			}})
		}
		slices.SortFunc(list, func(a, b bent) int { return strings.Compare(a.name, b.name) })
		z := zipOf(t, list...)
		rep, err := Verify(t.Context(), bytes.NewReader(z), int64(len(z)))
		if err != nil {
			t.Fatal(err)
		}
		return rep
	}
	line := func(sums, path string) string {
		for l := range strings.Lines(sums) {
			if strings.HasSuffix(l, "  "+path+"\n") {
				return l
			}
		}
		return ""
	}
	for _, c := range []struct {
		name, kind, path string
		change           func(map[string]string)
	}{
		{"nothing", "", "", func(map[string]string) {}},
		{"changed", FileChanged, "sheet.html", func(f map[string]string) { f["sheet.html"] += "!" }},
		{"removed", FileMissing, "photos/front.jpg", func(f map[string]string) { delete(f, "photos/front.jpg") }},
		{"added", FileExtra, "evil.exe", func(f map[string]string) { f["evil.exe"] = "x" }},
		{"two swapped", FileChanged, "README.txt", func(f map[string]string) {
			f["README.txt"], f["sheet.html"] = f["sheet.html"], f["README.txt"]
		}},
		{"no list", NoSums, SumsName, func(f map[string]string) { delete(f, SumsName) }},
		{"CR LF", BadSums, SumsName, func(f map[string]string) { f[SumsName] = strings.ReplaceAll(f[SumsName], "\n", "\r\n") }},
		{"cut short", BadSums, SumsName, func(f map[string]string) { f[SumsName] = f[SumsName][:len(f[SumsName])-1] }},
		{"a line of junk", BadSums, SumsName, func(f map[string]string) { f[SumsName] += "junk\n" }},
		{"twice", BadSums, SumsName, func(f map[string]string) { f[SumsName] += line(f[SumsName], "sheet.html") }},
		{"upper case", BadSums, SumsName, func(f map[string]string) { f[SumsName] = strings.ToUpper(f[SumsName][:64]) + f[SumsName][64:] }},
		{"path out", BadSums, SumsName, func(f map[string]string) { f[SumsName] += strings.Repeat("0", 64) + "  ../../x\n" }},
	} {
		rep := repack(c.change)
		if c.kind == "" {
			if len(rep.Problems) > 0 || rep.Digest != res.Digest {
				t.Errorf("%s: %v", c.name, rep.Problems)
			}
			continue
		}
		if !slices.ContainsFunc(rep.Problems, func(p Problem) bool { return p.Kind == c.kind && p.Path == c.path }) {
			t.Errorf("%s: %v", c.name, rep.Problems)
		}
	}
}

// TestEveryByte turns over a bit in each byte of a bundle: each time something must be reported.
func TestEveryByte(t *testing.T) {
	entries := []Entry{{Path: "a.txt", Data: []byte(strings.Repeat("hello ", 50))}, {Path: "b.jpg", Data: []byte("jpeg")}}
	data, _ := write(t, entries, Options{})
	for i := range data {
		bad := slices.Clone(data)
		bad[i] ^= 0x21
		rep, err := Verify(t.Context(), bytes.NewReader(bad), int64(len(bad)))
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Problems) == 0 {
			t.Errorf("byte %d can be changed unseen", i)
		}
	}
}

func TestReaderErrors(t *testing.T) {
	data, _ := write(t, sample(), Options{})
	broken := errors.New("disk is gone")
	for n := range 40 {
		r := &failingReader{r: bytes.NewReader(data), err: broken}
		r.n.Store(int64(n))
		rep, err := Verify(t.Context(), r, int64(len(data)))
		if r.n.Load() >= 0 {
			if err != nil {
				t.Error(err)
			}
			break
		}
		if !errors.Is(err, broken) {
			t.Errorf("reading fails at call %d: %v, %v", n, err, rep)
		}
	}
}

func goroot(t *testing.T) string {
	out, err := runGo("env", "GOROOT")
	if err != nil {
		t.Skipf("SKIPPED, NOTHING CHECKED: %v", err)
	}
	return strings.TrimSpace(out)
}

// FuzzRead must neither panic nor hang nor take memory, whatever the bytes; and what it accepts has
// no name that leads out.
func FuzzRead(f *testing.F) {
	data, _ := write(f, []Entry{{Path: "a.txt", Data: []byte(strings.Repeat("hello ", 50))}, {Path: "p/b.jpg", Data: []byte("jpeg")}}, Options{})
	f.Add(data)
	f.Add(zipOf(f, bent{name: "t/../x", text: "x"}))
	f.Add(zipOf(f, bent{name: "t/a", text: strings.Repeat("0", 2<<20), method: zip.Deflate}))
	f.Add([]byte("PK\x05\x06"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rep, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Problems) > 0 {
			return
		}
		for _, file := range rep.Files {
			if len(checkPath(rep.Top, file.Path)) > 0 {
				t.Errorf("accepted %q", file.Path)
			}
		}
	})
}

// failingReader fails at its n-th call and after it.
type failingReader struct {
	r   io.ReaderAt
	n   atomic.Int64
	err error
}

func (f *failingReader) ReadAt(p []byte, off int64) (int, error) {
	if f.n.Add(-1) < 0 {
		return 0, f.err
	}
	return f.r.ReadAt(p, off)
}
