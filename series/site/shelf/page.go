package shelf

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"html"
	"html/template"
	"io"
	"regexp"
	"slices"
	"strings"
	"sync"

	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/bundle/sheet"
	"dropwright/series/notice"
	"dropwright/templates"
)

// errEOF is what ReadAt gives at the end of a file.
var errEOF = io.EOF

// newer compares two revisions: above zero when a is the higher one.
func newer(a, b string) int {
	x, errX := design.ParseRevision(a)
	y, errY := design.ParseRevision(b)
	if errX != nil || errY != nil {
		return strings.Compare(a, b)
	}
	return x.Compare(y)
}

// maker of the pages of one place.
type maker struct {
	Input
	tongue
	things []*thing
	ics    bool // there is a calendar
}

// Pages makes every page of a place, in the order in which they are to be written: pages of designs first, the first
// page last. An error names the bundle that could not be read; then there are
// no pages.
func Pages(ctx context.Context, in Input) ([]Page, error) {
	if in.Base != "" && !strings.HasSuffix(in.Base, "/") {
		in.Base += "/"
	}
	m := &maker{Input: in, tongue: tongueOf(in.Language)}
	var err error
	if m.things, err = gather(ctx, in); err != nil {
		return nil, err
	}
	var out []Page
	add := func(name, kind string, data []byte) { out = append(out, Page{name, kind, data}) }
	feeds, err := m.feeds()
	if err != nil {
		return nil, err
	}
	out = append(out, feeds...)
	index, err := m.render("index", m.index())
	if err != nil {
		return nil, err
	}
	add("index.html", htmlType, index)
	for _, c := range in.Coming {
		if len(c.Picture) > 0 {
			name, kind := comingPicture(c)
			add(name, kind, c.Picture)
		}
	}
	for _, t := range m.things {
		view, err := m.design(t)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", t.Name, err)
		}
		page, err := m.render("design", view)
		if err != nil {
			return nil, err
		}
		add(t.Name+"/index.html", htmlType, page)
		for _, s := range t.Sheets {
			own := plainLinks(s.sheet)
			if !t.live() {
				if own, err = m.render("withdrawn", m.gone(t)); err != nil {
					return nil, err
				}
			}
			add(t.Name+"/"+s.Sheet, htmlType, own)
			add(t.Name+"/"+s.Bill, "text/csv; charset=utf-8", s.bill)
		}
		for _, p := range t.Pictures {
			add(t.Name+"/"+p.Name, imageType(p.Name), p.data)
		}
		if t.Cover != nil {
			add(t.Name+"/"+t.Cover.Name, imageType(t.Cover.Name), t.Cover.data)
		}
	}
	// What is linked to comes before what links to it: whoever writes them in this order never shows a broken link.
	slices.SortFunc(out, func(a, b Page) int {
		return cmp.Or(-cmp.Compare(strings.Count(a.Name, "/"), strings.Count(b.Name, "/")), cmp.Compare(bit(strings.HasSuffix(a.Name, "index.html")), bit(strings.HasSuffix(b.Name, "index.html"))), strings.Compare(a.Name, b.Name))
	})
	return out, nil
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

const htmlType = "text/html; charset=utf-8"

func imageType(name string) string {
	if strings.HasSuffix(name, ".png") {
		return "image/png"
	}
	return "image/jpeg"
}

func comingPicture(c Coming) (name, kind string) {
	name = fmt.Sprintf("coming/week-%d.jpg", c.Week)
	if bytes.HasPrefix(c.Picture, []byte("\x89PNG")) {
		name = fmt.Sprintf("coming/week-%d.png", c.Week)
	}
	return name, imageType(name)
}

// pages holds the templates, parsed once.
var pages = sync.OnceValues(func() (*template.Template, error) {
	return template.New("").Funcs(template.FuncMap{"say": func(string, ...any) string { return "" }, "css": func() template.CSS { return "" }, "swatch": swatch}).ParseFS(templates.FS, "shelf/*.html")
})

func (m *maker) render(name string, data any) ([]byte, error) {
	base, err := pages()
	if err != nil {
		return nil, fmt.Errorf("reading the pages' template: %w", err)
	}
	t, err := base.Clone()
	if err != nil {
		return nil, fmt.Errorf("reading the pages' template: %w", err)
	}
	css, err := templates.FS.ReadFile("shelf/shelf.css")
	if err != nil {
		return nil, fmt.Errorf("reading the pages' style: %w", err)
	}
	t.Funcs(template.FuncMap{"say": m.say, "css": func() template.CSS { return template.CSS(css) }})
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, name, data); err != nil {
		return nil, fmt.Errorf("printing a page: %w", err)
	}
	return b.Bytes(), nil
}

// swatch is a small square of colour before a filament's name, which says the same in words.
func swatch(hex string) template.HTML {
	if len(hex) != 7 || hex[0] != '#' || strings.Trim(hex[1:], "0123456789abcdefABCDEF") != "" {
		return ""
	}
	return template.HTML(`<svg class="swatch" viewBox="0 0 12 12" aria-hidden="true" focusable="false"><rect x="1" y="1" width="10" height="10" fill="` + hex + `"/></svg>`)
}

var anchors = regexp.MustCompile(`<a href="([^"]*)"[^>]*>((?s:.*?))</a>`)

// plainLinks takes the links out of a sheet that lead to files beside it in its bundle: here they are not.
func plainLinks(sheet []byte) []byte {
	return anchors.ReplaceAllFunc(sheet, func(a []byte) []byte {
		found := anchors.FindSubmatch(a)
		to := html.UnescapeString(string(found[1]))
		if strings.HasPrefix(to, "#") || strings.HasPrefix(to, "https://") || strings.HasPrefix(to, "http://") {
			return a
		}
		return found[2]
	})
}

// audience names who a place is for: for supporters, for everybody.
func (m *maker) audience() string {
	switch m.Audience {
	case "early", "public":
		return m.say("for " + m.Audience)
	}
	return m.say("for group", m.Audience)
}

// fragment prints a notice as a piece of a page.
func fragment(a *sheet.Announcement) (template.HTML, error) {
	var b bytes.Buffer
	if err := a.HTML(&b); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}

// withdrawals are the notices of a design's withdrawn revisions, the newest first.
func (m *maker) withdrawals(t *thing) ([]template.HTML, error) {
	var out []template.HTML
	for _, r := range t.Revisions {
		if r.Withdrawn.IsZero() {
			continue
		}
		x := notice.Withdrawal{Language: m.Language, Title: t.Shown.Variants[0].Card.Title, Revision: r.Revision, Because: r.Because}
		if t.live() && newer(t.Shown.Revision, r.Revision) > 0 {
			x.Better = t.Shown.Revision
		}
		f, err := fragment(x.Text())
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// correction is the notice of the shown revision, where it took the place of another one here.
func (m *maker) correction(t *thing) (template.HTML, error) {
	r := t.Shown
	if r.Before == "" || !t.live() {
		return "", nil
	}
	c := notice.Correction{Language: m.Language, Title: r.Variants[0].Card.Title, From: r.Before, To: r.Revision, Diff: r.Diff, Variants: variantTitles(r)}
	for _, x := range r.Changes {
		if newer(x.Revision, r.Before) > 0 && newer(x.Revision, r.Revision) <= 0 {
			c.Texts = append(c.Texts, x.Text)
		}
	}
	return fragment(c.Text())
}

func variantTitles(r *revision) map[string]string {
	out := map[string]string{}
	for _, v := range r.Variants {
		out[v.Card.Variant] = v.Card.VariantTitle
	}
	return out
}

// quiet says whether nothing of a comparison asks for printing.
func quiet(d compare.Diff) bool {
	return !slices.ContainsFunc(d.Parts, func(p compare.PartChange) bool { return p.Reprint != compare.No || p.Change == compare.Added })
}
