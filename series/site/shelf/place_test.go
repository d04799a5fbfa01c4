package shelf

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"dropwright/bundle"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/sheet"
	"dropwright/examples"
	"dropwright/series/catalogue"
	"dropwright/series/disk"
	"dropwright/series/disk/crash"
	"dropwright/series/ledger"
)

var day1 = time.Date(2027, 1, 8, 17, 0, 0, 0, time.UTC)

// overlaid is a file system with some files of its own.
type overlaid struct {
	fs.FS
	own map[string][]byte
}

func (o overlaid) Open(name string) (fs.File, error) {
	if data, ok := o.own[name]; ok {
		return memFile{bytes.NewReader(data), size{name, int64(len(data))}}, nil
	}
	return o.FS.Open(name)
}

type memFile struct {
	*bytes.Reader
	size
}

func (m memFile) Stat() (fs.FileInfo, error) { return m.size, nil }
func (m memFile) Close() error               { return nil }
func (m memFile) Size() int64                { return m.size.bytes }

// goods is every bundle of the tests, by name, and the announcements beside them.
var goods = sync.OnceValues(func() (map[string][]byte, error) {
	out := map[string][]byte{}
	const stake = "designs/soil-stake/"
	manifest, err := fs.ReadFile(examples.Season, stake+"design.yaml")
	if err != nil {
		return nil, err
	}
	raw, err := fs.ReadFile(examples.Season, stake+"meshes/soil-stake.stl")
	if err != nil {
		return nil, err
	}
	m, _, err := stl.Decode(raw)
	if err != nil {
		return nil, err
	}
	var thicker bytes.Buffer // by a fifth: whoever printed the old one must print again
	if err := stl.Write(&thicker, mesh.Transform(m, mesh.Matrix{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1.2, 0}})); err != nil {
		return nil, err
	}
	head := bytes.Index(manifest, []byte("changes:"))
	first := bytes.Index(manifest[head:], []byte("{revision")) + head
	again := append(append(bytes.Clone(manifest[:first]), "{revision: 1.0.1, date: 2027-01-12, text: 'thicker, <b>& stronger</b>'}\n  - "...), manifest[first:]...)
	for _, c := range []struct {
		name string
		own  map[string][]byte
	}{
		{"soil-stake", nil},
		{"soil-stake", map[string][]byte{stake + "design.yaml": again, stake + "meshes/soil-stake.stl": thicker.Bytes()}},
		{"vent-minder", nil},
	} {
		s, err := catalogue.Open(overlaid{examples.Season, c.own}, "season", board.Builtin())
		if err != nil {
			return nil, err
		}
		e, err := s.Load(c.name)
		if err != nil {
			return nil, err
		}
		if e.Design == nil {
			return nil, fmt.Errorf("%s does not decode: %v", c.name, e.Findings)
		}
		w, err := bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: &s.Config.House}, check.Past{}, "", measure.Options{Topics: bundle.PackTopics})
		if err != nil {
			return nil, err
		}
		for _, v := range w.Design.VariantNames() {
			var b bytes.Buffer
			p, err := w.Pack(context.Background(), &b, bundle.PackOptions{Variant: v, Audience: "public", BoardTitle: func(string) string { return "" }})
			if err != nil {
				return nil, err
			}
			out[p.Name] = b.Bytes()
		}
		var text bytes.Buffer
		if err := w.Announcement(design.Audience("public"), sheet.Moment{}, sheet.Moment{}, func(string) string { return "" }).Text(&text); err != nil {
			return nil, err
		}
		out[c.name+" "+w.Design.Revision().String()] = text.Bytes()
	}
	return out, nil
})

// object finds a file among the goods.
func object(t testing.TB, name, file string) (ledger.Object, []byte) {
	t.Helper()
	all, err := goods()
	if err != nil {
		t.Fatal(err)
	}
	data := all[name]
	if data == nil {
		t.Fatalf("nothing is called %q", name)
	}
	sum := sha256.Sum256(data)
	return ledger.Object{Name: file, SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data))}, data
}

// place is a public place with two designs, one of them corrected, the first of it withdrawn; one that was promised and
// may not be told, one with a teaser, one that was taken back.
func place(t testing.TB) Input {
	t.Helper()
	store := map[string][]byte{}
	in := Input{Series: "Allotment Instruments", Maker: "Hollow Lane Workshop", MakerURL: "https://hollow-lane.example", Language: "en", Accent: "#1f4e79", Audience: "public", Channel: "open-shelf",
		Base: "https://shelf.example/allotment", Zone: "Europe/Lisbon", Local: time.Time.UTC}
	date := func(audience string, n int) ledger.Date {
		at := day1.AddDate(0, 0, n)
		return ledger.Date{Audience: audience, Local: at.Format("2006-01-02 15:04"), Zone: "Europe/Lisbon", UTC: at}
	}
	records := []ledger.Record{
		{Kind: ledger.Promise, At: day1, Design: "soil-stake", Week: 1, UID: "urn:uuid:0d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77", Dates: []ledger.Date{date("early", 0), date("public", 21)}},
		{Kind: ledger.Promise, At: day1.AddDate(0, 0, 14), Design: "vent-minder", Week: 3, UID: "urn:uuid:1d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77", Dates: []ledger.Date{date("early", 14), date("public", 35)}},
		{Kind: ledger.Move, At: day1.AddDate(0, 0, 15), Design: "vent-minder", Week: 3, Because: "a correction", Dates: []ledger.Date{date("early", 14), date("public", 42)}},
		{Kind: ledger.Promise, At: day1.AddDate(0, 0, 28), Design: "CANARY-design", Week: 5, UID: "urn:uuid:2d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77", Dates: []ledger.Date{date("early", 28), date("public", 49)}},
		{Kind: ledger.Bundle, At: day1.AddDate(0, 0, 28), Design: "CANARY-design", Revision: "1.0.0", Audience: "public", Digest: "x", Objects: []ledger.Object{{Name: "CANARY-file.zip", SHA256: "x", Bytes: 1}}},
		{Kind: ledger.Promise, At: day1.AddDate(0, 0, 35), Design: "CANARY-gone", Week: 6, UID: "urn:uuid:3d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77", Dates: []ledger.Date{date("early", 35), date("public", 56)}},
		{Kind: ledger.Move, At: day1.AddDate(0, 0, 36), Design: "CANARY-gone", Because: "CANARY-reason"},
	}
	in.Log = logOf(t, records)
	add := func(name, revision string, day int, zips ...string) {
		r := Release{Design: name, Revision: revision, Due: day1.AddDate(0, 0, day), At: day1.AddDate(0, 0, day)}
		for _, z := range zips {
			o, data := object(t, z, z)
			store[o.SHA256] = data
			r.Objects = append(r.Objects, o)
		}
		o, data := object(t, name+" "+revision, "announcement.txt")
		store[o.SHA256] = data
		r.Objects = append(r.Objects, o)
		in.Releases = append(in.Releases, r)
	}
	add("soil-stake", "1.0.0", 21, "soil-stake-1.0.0-public.zip")
	add("soil-stake", "1.0.1", 25, "soil-stake-1.0.1-public.zip")
	in.Releases[0].Withdrawn, in.Releases[0].Because = day1.AddDate(0, 0, 24), "the point <i>splinters</i>"
	add("vent-minder", "1.0.0", 42, "vent-minder-1.0.0-ce-public.zip", "vent-minder-1.0.0-stack-public.zip")
	told := ComingOf(in.Log, "public", 7, "rain-tipper", day1.AddDate(0, 0, 63))
	told.Title, told.Picture = "Rain Tipper", pictureOf(t, "rain-tipper")
	in.Coming = []Coming{ComingOf(in.Log, "public", 5, "CANARY-design", day1.AddDate(0, 0, 49)), ComingOf(in.Log, "public", 6, "CANARY-gone", time.Time{}), told}
	in.Open = func(_ context.Context, r Release, o ledger.Object) (File, error) {
		data, ok := store[o.SHA256]
		if !ok {
			return nil, fmt.Errorf("%s of %s: %w", o.Name, r.Revision, fs.ErrNotExist)
		}
		return memFile{bytes.NewReader(data), size{o.Name, o.Bytes}}, nil
	}
	return in
}

func pictureOf(t testing.TB, name string) []byte {
	t.Helper()
	files, err := fs.Glob(examples.Season, "designs/"+name+"/photos/*.jpg")
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	data, err := fs.ReadFile(examples.Season, files[0])
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// logOf writes records into a ledger and reads it back.
func logOf(t testing.TB, records []ledger.Record) *ledger.Log {
	t.Helper()
	const name = "/series/ledger.jsonl"
	d := crash.New()
	if err := disk.MkdirAll(d, filepath.Dir(name)); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(d, name, ledger.Options{Series: "allotment", Now: day1, Lock: func(string) (func() error, error) { return func() error { return nil }, nil }})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if _, err := l.Append(r); err != nil {
			t.Fatal(err)
		}
	}
	return l.Log
}

// made is the pages of a place by name.
func made(t testing.TB, in Input) map[string][]byte {
	t.Helper()
	if testing.Short() {
		t.Skip("packs bundles")
	}
	pages, err := Pages(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, p := range pages {
		if out[p.Name] != nil || len(p.Data) == 0 || p.Type == "" || path.Clean(p.Name) != p.Name {
			t.Errorf("the page %q comes twice, or is empty", p.Name)
		}
		out[p.Name] = p.Data
	}
	return out
}

// flat is a page's text with its white space made one.
func flat(page []byte) string { return strings.Join(strings.Fields(string(page)), " ") }
