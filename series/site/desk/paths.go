package desk

import (
	"context"
	"path"
	"slices"

	"dropwright/series/site"
)

// Paths lists all files of the site as they are written into a folder, the first page last, so that it never leads to
// a page that is not there yet. Pictures and meshes come before the pages that show them.
func (d *Desk) Paths(ctx context.Context) ([]string, error) {
	out := []string{"desk.css", "solid.js", "mark.svg"}
	s, err := d.Source.Season(ctx)
	if err != nil {
		return nil, err
	}
	for _, name := range s.Names {
		x, err := d.Source.Design(ctx, name, true)
		if err != nil {
			return nil, err
		}
		out = append(out, d.pathsOf(x)...)
	}
	boards, err := d.Source.Boards(ctx)
	if err != nil {
		return nil, err
	}
	for _, b := range boards {
		if b.Drawing != nil {
			out = append(out, "boards/"+b.Key+".svg")
		}
		out = append(out, "boards/"+b.Key+".html")
	}
	return append(out, "boards/index.html", "index.html"), nil
}

// pathsOf lists the files of one design.
func (d *Desk) pathsOf(x *Design) []string {
	in := path.Join("designs", x.Name)
	var out []string
	if x.Work != nil {
		v := designView{Frame: site.Frame{Path: designPath(x.Name)}}
		d.fill(&v, x)
		pics := v.Pictures
		if v.Cover != nil {
			pics = append(pics, *v.Cover)
		}
		for _, s := range v.Solids {
			if s.Still != nil {
				pics = append(pics, *s.Still)
			}
			if s.Src != "" {
				out = append(out, path.Join(in, s.Src))
			}
		}
		for _, p := range pics {
			if at := path.Join(in, p.Src); p.Src != "" && !slices.Contains(out, at) {
				out = append(out, at)
			}
		}
		for _, s := range v.Sheets {
			for _, l := range s.Links {
				out = append(out, path.Join(in, l.Href))
			}
		}
	}
	return append(out, designPath(x.Name))
}
