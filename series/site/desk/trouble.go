package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"dropwright/series/site"
)

type troubleView struct {
	site.Frame
	Says    string
	Hint    string
	Designs []site.Link
}

// Trouble prints a page for a path that has none, with a way on. It watches like any other, so that a design that
// comes back shows by itself.
func (d *Desk) Trouble(ctx context.Context, name, watch string, err error) (site.Page, error) {
	s, serr := d.Source.Season(ctx)
	if serr != nil {
		s = nil
	}
	v := troubleView{Frame: d.frame(s, name, "There is no such page", watch), Says: "Nothing lies at this address.", Hint: "These do:"}
	design, isDesign := strings.CutPrefix(name, "designs/")
	design, _, _ = strings.Cut(design, "/")
	switch {
	case !errors.Is(err, site.ErrNoPage):
		v.Frame.Title, v.Says = "This page cannot be shown", err.Error()
		v.Hint = "It comes back when that is mended. Meanwhile:"
	case isDesign:
		v.Frame.Title = "There is no design " + design
		v.Says = fmt.Sprintf("No folder designs/%s with a design.yaml is in the series. If it comes back, so does this page.", design)
		v.Hint = "The series has:"
	}
	v.Designs = append(v.Designs, site.Link{Href: v.To("index.html"), Text: "The season"})
	if s != nil {
		for _, n := range s.Names {
			v.Designs = append(v.Designs, site.Link{Href: v.To(designPath(n)), Text: n})
		}
	}
	t, terr := pages()
	if terr != nil {
		return site.Page{}, fmt.Errorf("reading the templates: %w", terr)
	}
	return site.Print(t, "trouble", v.Frame, v)
}
