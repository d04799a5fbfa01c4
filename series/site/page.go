package site

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"path"
	"strings"
)

// Page is one file of a site.
type Page struct {
	Path   string // below the site's root, slash-separated, such as "designs/vent-minder/index.html"
	Type   string // media type with its charset
	Policy string // Content-Security-Policy that a server sends with it
	Data   []byte
}

// ErrNoPage means that a site has no such page.
var ErrNoPage = errors.New("no such page")

// Policies in the words of W3C Content Security Policy Level 3. Nothing is ever fetched from elsewhere.
const (
	// PagePolicy is for a page with the site's own style, script and pictures.
	PagePolicy = "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'"
	// WholePolicy is for a file that needs nothing beside it: its style is inside, its pictures are data: addresses.
	WholePolicy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
	// WatchedPolicy is WholePolicy for a page to which a server added the script that reloads it.
	WatchedPolicy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'"
	// FilePolicy is for what is no page.
	FilePolicy = "default-src 'none'; style-src 'unsafe-inline'"
)

// Link is an address with its words.
type Link struct{ Href, Text string }

// Frame is what stands around the contents of every page.
type Frame struct {
	Path        string // of the page itself
	Language    string // BCP 47; "" is en
	Title       string
	Series      string // title of the series
	Description string
	Trail       []Link // the way here from the first page; Href are paths of pages
	Scripts     []string
	Made        string // a line at the foot
	Watch       string // what a watching server calls the state that was printed; "": nobody watches
}

// Root is the way from the page to the site's root: "", "../", "../../".
func (f Frame) Root() string { return strings.Repeat("../", strings.Count(f.Path, "/")) }

// To is the link from the page to another one, given by its path below the root.
func (f Frame) To(to string) string { return f.Root() + to }

// Lang is the language of the page.
func (f Frame) Lang() string {
	if f.Language == "" {
		return "en"
	}
	return f.Language
}

// PagePolicy is the policy that the page carries itself, for where no server sends one. A frame's ancestors cannot
// be said in a page (CSP Level 3, section 3.3).
func (f Frame) PagePolicy() string { return PagePolicy }

// Print fills a page from a template. data is handed to the template as it is.
func Print(t *template.Template, name string, f Frame, data any) (Page, error) {
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, name, data); err != nil {
		return Page{}, fmt.Errorf("printing %s: %w", f.Path, err)
	}
	return Page{Path: f.Path, Type: "text/html; charset=utf-8", Policy: PagePolicy, Data: b.Bytes()}, nil
}

// TypeOf is the media type of a file by its name.
func TypeOf(name string) string {
	switch path.Ext(name) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".png":
		return "image/png"
	case ".jpg", ".jpeg":
		return "image/jpeg"
	case ".json":
		return "application/json"
	}
	return "application/octet-stream"
}
