package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"path"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/sheet"
	"dropwright/bundle/trial"
	"dropwright/series/outlook"
	"dropwright/series/site"
)

// designView is what templates/desk/design.html prints.
type designView struct {
	site.Frame
	Name, Summary string
	Whole         bool // it could be measured
	Measuring     bool
	Pairs         [][2]string
	Cover         *shown
	Missing       []outlook.Missing
	Shots         []string
	Tally         string
	Found         []told
	Unjudged      []told
	AsIs          []told
	Reports       []outlook.Report
	Solids        []solidView
	Pictures      []shown
	Prints        []site.Table
	Bills         []billView
	Sheets        []sheetView
	Trials        *site.Table
	Reached       *site.Table
	Changes       *site.Table
	Told          []told // about series.yaml
}

// solidView is one mesh with its still picture.
type solidView struct {
	ID, Title, Src string
	Still          *shown
	Why            string // there is nothing to turn, because
	Colours        string // filaments as JSON
	Swatches       []swatch
	Pairs          [][2]string
}

// billView is the bill of materials of one variant.
type billView struct {
	Variant  string
	Tables   []site.Table
	Cost     string
	Missing  []string
	Commands string
}

// sheetView is one variant's assembly sheet.
type sheetView struct {
	Variant string
	Links   []site.Link
	Steps   []string
}

// designPage prints the page of one design.
func (d *Desk) designPage(ctx context.Context, x *Design, watch string) (site.Page, error) {
	v := designView{Name: x.Name, Measuring: x.Measuring}
	title := x.Name
	if m := x.manifest(); m != nil && m.Title.Set() {
		title = string(m.Title.V)
		v.Summary = string(m.Summary.V)
	} else if x.Week != nil && x.Week.Title != "" {
		title = x.Week.Title
	}
	v.Frame = d.frame(x.Season, designPath(x.Name), title, watch)
	v.Description = v.Summary
	if x.Season != nil {
		v.Told = tell(x.Season.Told, x.Season.Texts)
	}
	v.Found = tell(x.Found, x.Texts)
	counts := map[string]int{}
	for _, f := range v.Found {
		counts[f.Level]++
	}
	v.Tally = tally(counts["error"], counts["warning"], counts["note"])
	for _, n := range x.Unjudged {
		t := told{Text: n.Text, Place: n.At.String()}
		if n.Variant != "" {
			t.Text = n.Variant + ": " + t.Text
		}
		v.Unjudged = append(v.Unjudged, t)
	}
	for _, u := range x.AsIs {
		t := tellOne(u.Finding, x.Texts)
		t.Because = u.Because
		v.AsIs = append(v.AsIs, t)
	}
	v.Reports = x.Reports
	d.dates(&v, x)
	if x.Work != nil {
		v.Whole = true
		d.fill(&v, x)
	}
	if x.Week != nil {
		v.Missing = x.Week.Missing
	}
	if len(v.Solids) > 0 {
		v.Scripts = append(v.Scripts, "solid.js")
	}
	t, err := pages()
	if err != nil {
		return site.Page{}, fmt.Errorf("reading the templates: %w", err)
	}
	return site.Print(t, "design", v.Frame, v)
}

// manifest is what the manifest says, measured or not.
func (x *Design) manifest() *design.Design {
	if x.Work != nil {
		return x.Work.Design
	}
	return x.Manifest
}

// dates fills in revision and changes, week, state and days.
func (d *Desk) dates(v *designView, x *Design) {
	add := func(term, text string) {
		if text != "" {
			v.Pairs = append(v.Pairs, [2]string{term, text})
		}
	}
	if m := x.manifest(); m != nil && len(m.Changes) > 0 {
		add("revision", fmt.Sprintf("%s of %s", m.Revision(), m.Dated()))
		v.Changes = &site.Table{Title: "Changes", Head: []site.Column{{Text: "revision"}, {Text: "date"}, {Text: "what changed", Long: true}}}
		for _, c := range m.Changes {
			v.Changes.Rows = append(v.Changes.Rows, site.Row{Cells: []site.Cell{{Text: c.Revision.V.String()}, {Text: c.Date.V.String()}, {Text: string(c.Text.V)}}})
		}
	}
	w := x.Week
	if w == nil {
		return
	}
	zone := zoneOf(x.Season)
	week := "none yet"
	if w.Week > 0 {
		week = strconv.Itoa(w.Week)
	}
	add("week", week)
	state := string(w.State)
	if w.Why != "" {
		state += ": " + w.Why
	}
	add("state", state)
	add("early", stamp(w.Early, zone))
	add("public", stamp(w.Public, zone))
	add("finish by", stamp(w.FinishBy, zone))
	add("start by", stamp(w.StartBy, zone))
	if w.Chance != nil && x.Season != nil && x.Season.Outlook != nil {
		add("chance of its day", outlook.Percent(*w.Chance, x.Season.Outlook.Odds.Finest))
	}
	if w.Hours > 0 {
		add("still to print", hours(w.Hours))
	}
	for _, n := range w.Notes {
		add("note", n)
	}
	if len(w.Reached) > 0 {
		t := site.Table{Caption: "Reached", Head: []site.Column{{Text: "state"}, {Text: "on"}, {Text: "known from"}}}
		for _, r := range w.Reached {
			on := stamp(r.At, zone)
			if on == "" {
				on = "day not known"
			}
			t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{{Text: string(r.State)}, {Text: on}, {Text: r.From}}})
		}
		v.Reached = &t
	}
}

// fill takes what was measured.
func (d *Desk) fill(v *designView, x *Design) {
	w := x.Work
	names := w.Design.VariantNames()
	called := func(variant string) string {
		va, _ := w.Design.Variant(variant)
		switch {
		case va.Title.Set():
			return string(va.Title.V)
		case variant == design.Plain:
			return ""
		}
		return variant
	}
	audiences := []string{"early", "public"}
	if d.Folder { // a file for each would double the folder; the public one is what most see
		audiences = audiences[1:]
	}
	for _, name := range names {
		s := w.Illustrated(name, audience, x.BoardTitle)
		one := sheetView{Variant: called(name)}
		for _, a := range audiences {
			one.Links = append(one.Links, site.Link{Href: sheetName(name, a), Text: "as the " + a + " audience gets it"})
		}
		for _, sec := range s.Sections {
			for _, b := range sec.Blocks {
				switch {
				case sec.ID == "print" && b.Kind == sheet.Grid:
					v.Prints = append(v.Prints, sheetTable(b.Table, called(name), len(v.Prints)))
				case sec.ID == "parts" && b.Kind == sheet.Pictures && !b.Small:
					for _, p := range b.Pictures {
						v.Pictures = append(v.Pictures, show(x, p))
					}
				case b.Kind == sheet.Group:
					one.Steps = append(one.Steps, b.Title)
				}
			}
		}
		v.Sheets = append(v.Sheets, one)
		v.Bills = append(v.Bills, bill(x, name, called(name)))
	}
	for _, p := range w.Design.Photos {
		if s := show(x, sheet.Picture{File: string(p.File.V), Alt: string(p.Alt.V)}); bool(p.Cover.V) && s.Src != "" && v.Cover == nil {
			v.Cover = &s
		} else if s.Src != "" {
			v.Pictures = append([]shown{s}, v.Pictures...)
		}
	}
	v.Pictures = distinct(v.Pictures, v.Cover)
	for _, s := range w.Shots(names[0], audience).Sections {
		for _, b := range s.Blocks {
			for _, item := range b.Items {
				for _, y := range item {
					v.Shots = append(v.Shots, plain(y.Spans))
				}
			}
		}
	}
	for _, s := range solidsOf(w.Design) {
		v.Solids = append(v.Solids, d.solidView(x, s))
	}
	v.Trials = trials(x)
}

// show is a picture of a sheet on the page; Src is "" for a file that cannot be used.
func show(x *Design, p sheet.Picture) shown {
	s := shown{Src: picturePath(p.File), Alt: p.Alt, Caption: p.Caption}
	if f, ok := x.Work.Facts.Photo(p.File); ok {
		if f.Problem != "" {
			return shown{}
		}
		s.Width, s.Height = f.Width, f.Height
	}
	if s.Alt == "" {
		s.Alt = path.Base(p.File)
	}
	return s
}

// distinct leaves out what is shown twice, the cover among it.
func distinct(list []shown, cover *shown) []shown {
	var out []shown
	seen := map[string]bool{"": true}
	if cover != nil {
		seen[cover.Src] = true
	}
	for _, s := range list {
		if !seen[s.Src] {
			seen[s.Src] = true
			out = append(out, s)
		}
	}
	return out
}

// solidView prepares one part for turning.
func (d *Desk) solidView(x *Design, s solidOf) solidView {
	w := x.Work
	v := solidView{ID: s.ID, Title: string(s.Part.Name.V), Swatches: filamentsOf(w, string(s.Part.Colour.V))}
	if s.Part.Title.Set() {
		v.Title = string(s.Part.Title.V)
	}
	if len(s.Variants) < len(w.Design.VariantNames()) {
		v.Title += " (" + strings.Join(s.Variants, ", ") + ")"
	}
	add := func(term, text string) {
		if text != "" {
			v.Pairs = append(v.Pairs, [2]string{term, text})
		}
	}
	f, ok := w.Facts.Mesh(s.File)
	switch {
	case !ok:
		v.Why = s.File + " is not there"
	case f.Error != "":
		v.Why = f.Error
	case f.Triangles == 0:
		v.Why = s.File + " holds no triangles"
	case f.Triangles > MaxMesh:
		v.Why = fmt.Sprintf("%d triangles are more than can be shown (%d)", f.Triangles, MaxMesh)
	}
	if p, ok := w.Facts.Part(string(s.Part.Name.V), s.Variants[0]); ok && p.Stands != nil {
		add("stands", fmt.Sprintf("%.1f × %.1f × %.1f mm", p.Stands[0], p.Stands[1], p.Stands[2]))
	}
	n, mirrored := s.Part.CopiesOf(s.Variants[0])
	copies := strconv.Itoa(n)
	if mirrored > 0 {
		copies += fmt.Sprintf(" as drawn, %d mirrored", mirrored)
	}
	add("copies", copies)
	if ok && v.Why == "" {
		add("triangles", strconv.Itoa(f.Triangles))
		add("SHA-256", f.SHA256[:min(16, len(f.SHA256))]+"…")
		v.Src = path.Join("solids", s.ID+".solid")
		if d.Folder {
			v.Src += ".js"
		}
		still := shown{Src: picturePath(path.Join("render", string(audience), s.Variants[0], "part", string(s.Part.Name.V)+".png")),
			Alt: v.Title + " as it stands on the bed", Width: 480, Height: 360}
		v.Still = &still
	}
	if data, err := json.Marshal(v.Swatches); err == nil && len(v.Swatches) > 0 {
		v.Colours = string(data)
	}
	return v
}

// trials is the log of a design's test prints, the newest first.
func trials(x *Design) *site.Table {
	if len(x.Trials) == 0 {
		return nil
	}
	t := &site.Table{Title: "Test prints", Head: []site.Column{{Text: "part"}, {Text: "on"}, {Text: "outcome"}, {Text: "printer"}, {Text: "grams", Figure: true}, {Text: "time", Figure: true}, {Text: "of the present mesh"}, {Text: "note", Long: true}}}
	for i := len(x.Trials) - 1; i >= 0; i-- {
		r := x.Trials[i]
		present := "no"
		if x.Work != nil {
			for _, m := range x.Work.Facts.Meshes {
				if m.SHA256 == r.Mesh && r.Mesh != "" {
					present = "yes"
				}
			}
		}
		outcome := r.Outcome
		if outcome == "" {
			outcome = "holes only"
		} else if outcome == trial.OK {
			outcome = "accepted"
		}
		grams, took := "", ""
		if r.Grams > 0 {
			grams = strconv.FormatFloat(r.Grams, 'f', 1, 64)
		}
		if r.Seconds > 0 {
			took = hours(r.Seconds / 3600)
		}
		t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{{Text: r.Part, Note: r.Variant}, {Text: day(r.At, zoneOf(x.Season))}, {Text: outcome}, {Text: r.Printer, Note: r.Filament}, {Text: grams}, {Text: took}, {Text: present}, {Text: r.Note}}})
	}
	return t
}

// sheetName is the file of a variant's sheet.
func sheetName(variant, audience string) string { return "sheet-" + variant + "-" + audience + ".html" }

// sheetHead is where a watching server adds its script; the sheet's own template has it.
const sheetHead = `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">`

// sheet prints a variant's assembly sheet, byte for byte what the bundle holds; with a script beside it when it is
// watched.
func (d *Desk) sheet(x *Design, file, watch string) (site.Page, error) {
	none := fmt.Errorf("designs/%s/%s: %w", x.Name, file, site.ErrNoPage)
	for _, v := range x.Work.Design.VariantNames() {
		for _, a := range []string{"early", "public"} {
			if file != sheetName(v, a) {
				continue
			}
			var b bytes.Buffer
			if err := x.Work.Illustrated(v, design.Audience(a), x.BoardTitle).HTML(&b, d.images(x, x.Work.Images())); err != nil {
				return site.Page{}, err
			}
			p := site.Page{Path: path.Join("designs", x.Name, file), Type: site.TypeOf(file), Policy: site.WholePolicy, Data: b.Bytes()}
			if watch != "" {
				script := fmt.Sprintf(`<script src="../../desk.js" data-watch="%s" data-page="%s" data-root="../../" defer></script>`, watch, p.Path)
				p.Data, p.Policy = bytes.Replace(p.Data, []byte(sheetHead), []byte(script), 1), site.WatchedPolicy
			}
			return p, nil
		}
	}
	return site.Page{}, none
}
