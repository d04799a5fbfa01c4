package desk

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"path"
	"strings"
	"sync"
	"time"

	"dropwright/series/site"
	"dropwright/templates"
)

// Desk prints the maker's pages.
type Desk struct {
	Source Source
	Kept   Kept // may be nil
	// Folder says that the pages will lie in a folder: meshes are then written so that a page opened by file://
	// can read them, which a fetch cannot (Fetch Standard, section 4.2: file: is left to the browser, and all refuse).
	Folder bool
	Now    func() time.Time

	drawing sync.Mutex // one picture at a time: drawing one uses every core
}

var pages = sync.OnceValues(func() (*template.Template, error) {
	return template.New("").ParseFS(templates.FS, "desk/*.html")
})

// assets are the files that every page uses, by path. A browser asks for favicon.ico where a page names no mark, as the
// assembly sheet does.
var assets = map[string]string{"desk.js": "desk/desk.js", "solid.js": "desk/solid.js", "mark.svg": "desk/mark.svg", "favicon.ico": "desk/mark.svg"}

// Page prints one page. watch is what a watching server calls the present state; "" when nobody watches. A page
// that is not there is site.ErrNoPage.
func (d *Desk) Page(ctx context.Context, name, watch string) (site.Page, error) {
	if from, ok := assets[name]; ok {
		data, err := templates.FS.ReadFile(from)
		return site.Page{Path: name, Type: site.TypeOf(from), Policy: site.FilePolicy, Data: data}, err
	}
	switch name {
	case "index.html":
		return d.overview(ctx, watch)
	case "desk.css":
		return d.style(ctx)
	}
	dir, rest, _ := strings.Cut(name, "/")
	switch dir {
	case "boards":
		return d.boardPages(ctx, rest, watch)
	case "designs":
		design, file, ok := strings.Cut(rest, "/")
		if ok && design != "" {
			return d.designFile(ctx, design, file, watch)
		}
	}
	return site.Page{}, fmt.Errorf("%q: %w", name, site.ErrNoPage)
}

// style is the style sheet with the series' accent.
func (d *Desk) style(ctx context.Context) (site.Page, error) {
	data, err := templates.FS.ReadFile("desk/desk.css")
	if err != nil {
		return site.Page{}, err
	}
	s, err := d.Source.Season(ctx)
	if err != nil {
		return site.Page{}, err
	}
	if accent := colourOf(s.Accent); accent != "" {
		data = append(append([]byte(nil), data...), ":root { --accent: "+accent+"; }\n"...)
	}
	return site.Page{Path: "desk.css", Type: site.TypeOf("desk.css"), Policy: site.FilePolicy, Data: data}, nil
}

// colourOf lets only #rrggbb through.
func colourOf(hex string) string {
	if len(hex) == 7 && hex[0] == '#' && strings.Trim(hex[1:], "0123456789abcdefABCDEF") == "" {
		return hex
	}
	return ""
}

// designFile prints what lies below a design's folder.
func (d *Desk) designFile(ctx context.Context, design, file, watch string) (site.Page, error) {
	none := fmt.Errorf("designs/%s/%s: %w", design, file, site.ErrNoPage)
	x, err := d.Source.Design(ctx, design, file != "index.html")
	if err != nil {
		return site.Page{}, err
	}
	dir, rest, deep := strings.Cut(file, "/")
	switch {
	case file == "index.html":
		return d.designPage(ctx, x, watch)
	case x.Work == nil:
		return site.Page{}, none
	case deep && dir == "pictures":
		return d.picture(x, rest)
	case deep && dir == "solids":
		return d.solid(x, rest)
	case strings.HasPrefix(file, "sheet-"):
		return d.sheet(x, file, watch)
	}
	return site.Page{}, none
}

// frame fills what stands around a page.
func (d *Desk) frame(s *Season, name, title, watch string) site.Frame {
	f := site.Frame{Path: name, Title: title, Watch: watch}
	if s != nil {
		f.Series = s.Title
	}
	if name != "index.html" {
		f.Trail = []site.Link{{Href: "index.html", Text: cmp.Or(f.Series, "The season")}}
	}
	if watch != "" {
		f.Scripts = append(f.Scripts, "desk.js")
	}
	f.Made = "For the maker; readers' pages go out with the drops."
	if s != nil && s.Outlook != nil {
		f.Made = "As it stood on " + stamp(s.Outlook.Now, s.Zone) + ". " + f.Made
	}
	return f
}

// stamp prints a moment in the series' own zone, as the week list does: Fri 15 Jan 17:00.
func stamp(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return ""
	}
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format("Mon 2 Jan 2006 15:04")
}

// day is a moment's day.
func day(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return ""
	}
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format("Mon 2 Jan 2006")
}

// designPath is the path of a design's page.
func designPath(name string) string { return path.Join("designs", name, "index.html") }
