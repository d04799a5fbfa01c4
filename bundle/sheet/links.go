package sheet

import "strings"

// settle makes every address on the sheet lead somewhere: an anchor that the sheet does not have, or a file that
// does not lie beside it, loses its address and keeps its text.
func (c *composer) settle() {
	ids := map[string]bool{"main": true}
	for _, s := range c.out.Sections {
		ids[s.ID] = true
		for _, b := range s.Blocks {
			if b.ID != "" {
				ids[b.ID] = true
			}
		}
	}
	fix := func(s *Span) {
		href := SafeLink(s.Href)
		switch {
		case href == "":
		case strings.HasPrefix(href, "#"):
			if !ids[href[1:]] {
				href = ""
			}
		case !strings.Contains(strings.SplitN(href, "/", 2)[0], ":"): // a file
			file, anchor, _ := strings.Cut(href, "#")
			href = ""
			if c.Link != nil {
				href = SafeLink(c.Link(file))
			}
			if href != "" && anchor != "" {
				href += "#" + anchor
			}
		}
		s.Href = href
	}
	eachSpan(c.out.Head, fix)
	for _, s := range c.out.Sections {
		eachSpan(s.Blocks, fix)
	}
}

// eachSpan calls f for every span of some blocks.
func eachSpan(blocks []Block, f func(*Span)) {
	all := func(list []Span) {
		for i := range list {
			f(&list[i])
		}
	}
	for _, b := range blocks {
		all(b.Spans)
		eachSpan(b.Blocks, f)
		for _, x := range b.Items {
			eachSpan(x, f)
		}
		for _, x := range b.Pairs {
			all(x.Spans)
		}
		if b.Table != nil {
			for _, r := range b.Table.Rows {
				for _, x := range r.Cells {
					all(x.Spans)
				}
			}
		}
	}
}
