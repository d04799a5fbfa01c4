package desk

import (
	"context"
	"fmt"
	"path"
	"strings"

	"dropwright/series/site"
)

type boardsView struct {
	site.Frame
	Boards site.Table
}

type boardView struct {
	site.Frame
	Board
	Place  string
	Uses   []site.Link
	Src    string
	Found  []told
	Tables []site.Table
}

// boardPages prints what lies below boards/.
func (d *Desk) boardPages(ctx context.Context, rest, watch string) (site.Page, error) {
	none := fmt.Errorf("boards/%s: %w", rest, site.ErrNoPage)
	all, err := d.Source.Boards(ctx)
	if err != nil {
		return site.Page{}, err
	}
	ext := path.Ext(rest)
	key := strings.TrimSuffix(rest, ext)
	for _, b := range all {
		if b.Key != key {
			continue
		}
		switch {
		case ext == ".svg" && b.Drawing != nil:
			return site.Page{Path: "boards/" + rest, Type: site.TypeOf(rest), Policy: site.FilePolicy, Data: []byte(b.Drawing())}, nil
		case ext == ".html":
			return d.boardPage(ctx, b, watch)
		}
		return site.Page{}, none
	}
	if rest != "index.html" {
		return site.Page{}, none
	}
	s, err := d.Source.Season(ctx)
	if err != nil {
		return site.Page{}, err
	}
	v := boardsView{Frame: d.frame(s, "boards/index.html", "Boards", watch)}
	v.Boards = site.Table{Title: "Board profiles", Head: []site.Column{{Text: "board"}, {Text: "size"}, {Text: "what", Long: true}, {Text: "standard", Long: true}, {Text: "used by", Long: true}}}
	for _, b := range all {
		var uses []string
		for _, u := range b.UsedBy {
			uses = append(uses, u.Design+" "+u.Variant)
		}
		name := site.Cell{Text: b.ID, Href: b.Key + ".html", Note: b.File}
		if len(b.Told) > 0 {
			name.Note = strings.TrimSpace(name.Note + " cannot be read")
		}
		v.Boards.Rows = append(v.Boards.Rows, site.Row{Cells: []site.Cell{name, {Text: b.Size}, {Text: b.Title}, {Text: b.Standard}, {Text: strings.Join(uses, ", ")}}})
	}
	t, err := pages()
	if err != nil {
		return site.Page{}, fmt.Errorf("reading the templates: %w", err)
	}
	return site.Print(t, "boards", v.Frame, v)
}

func (d *Desk) boardPage(ctx context.Context, b Board, watch string) (site.Page, error) {
	s, err := d.Source.Season(ctx)
	if err != nil {
		return site.Page{}, err
	}
	title := b.Title
	if title == "" {
		title = b.ID
	}
	v := boardView{Frame: d.frame(s, "boards/"+b.Key+".html", title, watch), Board: b, Place: b.File, Tables: b.Tables, Found: tell(b.Told, b.Texts)}
	v.Trail = append(v.Trail, site.Link{Href: "boards/index.html", Text: "Boards"})
	if b.Drawing != nil {
		v.Src = b.Key + ".svg"
	}
	for _, u := range b.UsedBy {
		v.Uses = append(v.Uses, site.Link{Href: v.To(designPath(u.Design)), Text: u.Design + " " + u.Variant})
	}
	t, err := pages()
	if err != nil {
		return site.Page{}, fmt.Errorf("reading the templates: %w", err)
	}
	return site.Print(t, "board", v.Frame, v)
}
