package shelf

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"time"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/bom"
	"dropwright/bundle/compare"
	"dropwright/bundle/photo"
	"dropwright/series/ledger"
)

// Limits on what is read of a bundle, in bytes. Bundles are ours and were checked before they went out, but they
// came back from a disk.
const (
	maxCard    = 64 << 20
	maxPaper   = 64 << 20 // a sheet with its pictures inside, a bill of materials
	maxPicture = 32 << 20
	coverSide  = 880 // pixels: twice the width of a card, for dense screens
)

// thing is a design at the place.
type thing struct {
	Name      string
	Week      int         // of its promise, 0 when the ledger knows none
	Revisions []*revision // the newest first
	Shown     *revision   // the newest that was not withdrawn, or the newest
	First     time.Time   // when the first revision came here
	Updated   time.Time   // when the last revision came, or one was withdrawn
	Pictures  []picture
	Cover     *picture
	Sheets    []paper
}

// live says whether the shown revision may be built.
func (t *thing) live() bool { return t.Shown.Withdrawn.IsZero() }

// revision is one revision of a design at the place.
type revision struct {
	Release
	Variants []variant
	Changes  []change
	Story    []string     // paragraphs of the announcement
	Before   string       // the revision here before it, "" for the first
	Diff     compare.Diff // to it
}

// variant is one bundle of a revision.
type variant struct {
	Zip  ledger.Object
	Card card
}

// card is what is read of bundle.json (form dropwright-bundle-1).
type card struct {
	Form         string
	Design       string
	Title        string
	Summary      string
	Revision     string
	Date         string
	Variant      string
	VariantTitle string `json:"variant_title"`
	Audience     string
	Licence      string
	Later        string `json:"licence_later"`
	Photos       []struct {
		File, Alt string
		Cover     bool
	}
	Parts []part
	BOM   bom.BOM
}

// part is a printed part of bundle.json.
type part struct {
	Name     string
	Title    string
	Kind     string
	Filament string
	Copies   int
	Mirrored int
	Optional bool
	Stands   *[3]float64 `json:"stands_mm"`
	Estimate *struct{ Grams, Seconds float64 }
	Print    string
}

// change is one line of CHANGES.txt.
type change struct{ Revision, Date, Text string }

// picture is a picture of a page.
type picture struct {
	Name          string // of its page, from the design's page
	Alt           string
	Width, Height int
	data          []byte
	cover         bool
}

// paper is a sheet or a bill of materials of a variant, by the names of their pages.
type paper struct {
	Variant, Title string
	Sheet, Bill    string
	sheet, bill    []byte
}

// gather reads every design of the place, one after the other: only the files of one are open at a time.
func gather(ctx context.Context, in Input) ([]*thing, error) {
	var out []*thing
	at := map[string]*thing{}
	weeks := map[string]int{}
	for _, e := range in.Log.Entries {
		if (e.Kind == ledger.Promise || e.Kind == ledger.Move) && e.Week > 0 {
			weeks[e.Design] = e.Week
		}
	}
	for _, r := range in.Releases {
		t := at[r.Design]
		if t == nil {
			t = &thing{Name: r.Design, Week: weeks[r.Design], First: r.At, Updated: r.At}
			at[r.Design] = t
			out = append(out, t)
		}
		t.Revisions = append(t.Revisions, &revision{Release: r})
		for _, when := range []time.Time{r.At, r.Withdrawn} {
			if when.After(t.Updated) {
				t.Updated = when
			}
		}
		if r.At.Before(t.First) {
			t.First = r.At
		}
	}
	for _, t := range out {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := t.load(ctx, in); err != nil {
			return nil, fmt.Errorf("%s: %w", t.Name, err)
		}
	}
	slices.SortStableFunc(out, func(a, b *thing) int {
		if c := b.First.Compare(a.First); c != 0 {
			return c
		}
		return strings.Compare(a.Name, b.Name)
	})
	return out, nil
}

// load reads the bundles of a design.
func (t *thing) load(ctx context.Context, in Input) (err error) {
	slices.SortStableFunc(t.Revisions, func(a, b *revision) int { return newer(b.Revision, a.Revision) })
	t.Shown = t.Revisions[0]
	for _, r := range slices.Backward(t.Revisions) {
		if r.Withdrawn.IsZero() {
			t.Shown = r
		}
	}
	var states []*bundle.State // of the revisions, the newest first
	for _, r := range t.Revisions {
		var own []*bundle.State
		for _, o := range r.Objects {
			if path.Ext(o.Name) != ".zip" {
				continue
			}
			f, err := in.Open(ctx, r.Release, o)
			if err != nil {
				return err
			}
			defer f.Close() // the meshes are read when they are compared
			z, err := archive.Read(f, o.Bytes)
			if err != nil {
				return fmt.Errorf("%s: %w", o.Name, err)
			}
			v := variant{Zip: o}
			if err := v.read(z, r.Release); err != nil {
				return fmt.Errorf("%s: %w", o.Name, err)
			}
			r.Variants = append(r.Variants, v)
			if len(t.Revisions) > 1 {
				s, err := bundle.ReadState(zipFS{z}, r.Design+" "+r.Revision)
				if err != nil {
					return fmt.Errorf("%s: %w", o.Name, err)
				}
				own = append(own, s)
			}
			if len(r.Changes) == 0 {
				if r.Changes, err = readChanges(z); err != nil {
					return fmt.Errorf("%s: %w", o.Name, err)
				}
			}
			if r == t.Shown {
				if err := t.show(z, v); err != nil {
					return fmt.Errorf("%s: %w", o.Name, err)
				}
			}
		}
		if len(r.Variants) == 0 {
			return fmt.Errorf("%s holds no bundle", r.Revision)
		}
		states = append(states, bundle.Join(r.Design+" "+r.Revision, own))
	}
	for i, r := range t.Revisions[:len(t.Revisions)-1] {
		r.Before = t.Revisions[i+1].Revision
		if r.Diff, err = bundle.Changes(states[i+1], states[i]); err != nil {
			return fmt.Errorf("comparing %s with %s: %w", r.Before, r.Revision, err)
		}
	}
	t.cover()
	return t.story(ctx, in)
}

// read takes the card out of a bundle and holds it to the release that it came with.
func (v *variant) read(z *archive.Archive, r Release) error {
	data, err := z.ReadFile("bundle.json", maxCard)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(data, &v.Card); err != nil {
		return fmt.Errorf("bundle.json: %w", err)
	}
	c := v.Card
	if c.Form != bundle.CardForm || c.Design != r.Design || c.Revision != r.Revision {
		return fmt.Errorf("bundle.json is that of %s %s in the form %q", c.Design, c.Revision, c.Form)
	}
	return nil
}

var changeLine = regexp.MustCompile(`^(\d+\.\d+\.\d+)  (\d{4}-\d\d-\d\d)  (.+)$`)

func readChanges(z *archive.Archive) ([]change, error) {
	data, err := z.ReadFile("CHANGES.txt", maxPaper)
	if err != nil {
		return nil, err
	}
	var out []change
	for l := range strings.Lines(string(data)) {
		if m := changeLine.FindStringSubmatch(strings.TrimRight(l, "\r\n")); m != nil {
			out = append(out, change{m[1], m[2], m[3]})
		}
	}
	return out, nil
}

// show keeps what a page shows of a variant: its sheet, its bill, its pictures.
func (t *thing) show(z *archive.Archive, v variant) error {
	p := paper{Variant: v.Card.Variant, Title: v.Card.VariantTitle, Sheet: "sheet-" + v.Card.Variant + ".html", Bill: "bom-" + v.Card.Variant + ".csv"}
	var err error
	if p.sheet, err = z.ReadFile("sheet.html", maxPaper); err != nil {
		return err
	}
	if p.bill, err = z.ReadFile("bom.csv", maxPaper); err != nil {
		return err
	}
	t.Sheets = append(t.Sheets, p)
	photos := v.Card.Photos
	if len(photos) == 0 { // a bundle of before they were listed
		for _, name := range z.Paths() {
			if strings.HasPrefix(name, "photos/") {
				photos = append(photos, struct {
					File, Alt string
					Cover     bool
				}{File: name})
			}
		}
	}
	for _, x := range photos {
		data, err := z.ReadFile(x.File, maxPicture)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(t.Pictures, func(p picture) bool { return bytes.Equal(p.data, data) }) {
			continue // another variant shows it too
		}
		info, err := photo.Inspect(data)
		if err != nil {
			return fmt.Errorf("%s: %w", x.File, err)
		}
		alt := x.Alt
		if alt == "" {
			alt = fmt.Sprintf("%s, %d", v.Card.Title, len(t.Pictures)+1)
		}
		t.Pictures = append(t.Pictures, picture{fmt.Sprintf("picture-%d.%s", len(t.Pictures)+1, ending(info.Format)), alt, info.Width, info.Height, data, x.Cover})
	}
	return nil
}

func ending(f photo.Format) string {
	if f == photo.PNG {
		return "png"
	}
	return "jpg"
}

// cover makes a small copy of the picture that stands for the design.
func (t *thing) cover() {
	if len(t.Pictures) == 0 {
		return
	}
	p := t.Pictures[0]
	if i := slices.IndexFunc(t.Pictures, func(p picture) bool { return p.cover }); i >= 0 {
		p = t.Pictures[i]
	}
	if data, info, err := photo.Clean(p.data, photo.Options{MaxSide: coverSide}); err == nil && len(data) < len(p.data) {
		p.data, p.Width, p.Height = data, info.Width, info.Height
	}
	p.Name = "cover" + path.Ext(p.Name)
	t.Cover = &p
}

// story takes the paragraphs that the maker wrote out of the announcement: what stands between title and summary and
// the list of figures. They are told once, on the page and in the feed.
func (t *thing) story(ctx context.Context, in Input) error {
	r := t.Shown
	i := slices.IndexFunc(r.Objects, func(o ledger.Object) bool { return path.Base(o.Name) == "announcement.txt" })
	if i < 0 || r.Objects[i].Bytes > maxPaper {
		return nil
	}
	f, err := in.Open(ctx, r.Release, r.Objects[i])
	if err != nil {
		return err
	}
	defer f.Close()
	data := make([]byte, r.Objects[i].Bytes)
	if _, err := f.ReadAt(data, 0); err != nil && len(data) > 0 && !errors.Is(err, errEOF) {
		return fmt.Errorf("announcement.txt: %w", err)
	}
	c := r.Variants[0].Card
	blocks := strings.Split(strings.ReplaceAll(strings.TrimSpace(string(data)), "\r\n", "\n"), "\n\n")
	for n, b := range blocks {
		text := strings.Join(strings.Fields(b), " ")
		if text == "" || n < 2 && (text == c.Title || text == strings.Join(strings.Fields(c.Summary), " ")) {
			continue
		}
		if strings.HasPrefix(b, "- ") && strings.Contains(b, c.Revision) { // the figures: everything after is the tool's
			break
		}
		r.Story = append(r.Story, text)
	}
	return nil
}

// zipFS is a bundle as bundle.ReadState wants it.
type zipFS struct{ z *archive.Archive }

func (f zipFS) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: errors.ErrUnsupported}
}

func (f zipFS) ReadFile(name string) ([]byte, error) { return f.z.ReadFile(name, archive.MaxBytes) }

func (f zipFS) Stat(name string) (fs.FileInfo, error) {
	n := f.z.Size(name)
	if n < 0 {
		return nil, &fs.PathError{Op: "stat", Path: name, Err: fs.ErrNotExist}
	}
	return size{name, n}, nil
}

// size is what is known of a file in a zip.
type size struct {
	name  string
	bytes int64
}

func (s size) Name() string       { return path.Base(s.name) }
func (s size) Size() int64        { return s.bytes }
func (s size) Mode() fs.FileMode  { return 0o444 }
func (s size) ModTime() time.Time { return time.Time{} }
func (s size) IsDir() bool        { return false }
func (s size) Sys() any           { return nil }
