package adopt

import (
	"fmt"
	"path"
	"strings"
)

func (r *reader) writeSteps(w *yamlWriter) {
	if len(r.assembly) == 0 {
		w.todo(0, "assembly:", "needed as soon as anything is put together; no steps were found")
		w.todo(0, "  - {title: Close the lid, text: Hand tight., uses: {base: 1, lid: 1}, tools: [hex key 2.5]}", "")
		return
	}
	w.line(0, "assembly:", "")
	used := map[string]bool{}
	for i, s := range r.assembly {
		at := fmt.Sprintf("assembly.%d", i+1)
		title := oneLine(s.title, 100)
		if strings.TrimSpace(title) == "" {
			title = fmt.Sprintf("Step %d", i+1)
		}
		base := title
		for k := 2; used[title]; k++ { // later steps name earlier ones by their titles
			title = fmt.Sprintf("%s (%d)", base, k)
		}
		used[title] = true
		w.value(2, "- ", "title", quote(title), at, s.by)
		if t := oneLine(s.text, 2000); t != "" {
			w.value(4, "", "text", quote(t), at+".text", s.by)
		} else {
			w.todo(4, "text: how, in short sentences", "")
		}
		if s.times > 1 {
			w.value(4, "", "times", fmt.Sprint(s.times), at+".times", s.by)
		}
		if len(s.uses) > 0 {
			w.line(4, "uses:", "")
			for _, u := range s.uses {
				by := origin{s.by.from, Likely}
				if u.guess {
					by = origin{"no step names it; placed by what it joins", Guess}
				} else if u.said {
					by.from += " says how many"
				}
				w.value(6, "", u.name, figureText(u.n), at+".uses."+u.name, by)
			}
		} else {
			w.todo(4, "uses: {}", "names and counts of what it uses up")
		}
		if len(s.tools) > 0 {
			var q []string
			for _, t := range s.tools {
				q = append(q, quote(t))
			}
			w.value(4, "", "tools", "["+strings.Join(q, ", ")+"]", at+".tools", origin{s.by.from, Likely})
		}
		if len(s.only) > 0 && len(s.only) < len(r.variants) {
			w.value(4, "", "only", "["+strings.Join(s.only, ", ")+"]", at+".only", origin{s.by.from, Guess})
		}
		if s.picture != "" {
			alt := s.alt
			if strings.TrimSpace(oneLine(alt, 200)) == "" {
				alt = "Picture of this step: " + title
			}
			w.value(4, "", "picture", "{file: "+quotePath(s.picture)+", alt: "+quote(oneLine(alt, 200))+"}", at+".picture", s.by)
		}
	}
}

func (r *reader) writePhotos(w *yamlWriter) {
	if len(r.about.photos) == 0 {
		w.todo(0, "photos: [{file: photos/front.jpg, alt: What the picture shows, cover: true}]", "no picture was found")
		return
	}
	w.line(0, "photos:", "")
	for i, p := range r.about.photos {
		at := fmt.Sprintf("photos.%d", i+1)
		w.value(2, "- ", "file", quotePath(p.file), at, p.by)
		if alt := oneLine(p.alt, 250); alt != "" {
			w.value(4, "", "alt", quote(alt), at+".alt", p.by)
		} else {
			w.todo(4, "alt: what it shows, for who cannot see it", path.Base(p.file))
		}
		if p.cover {
			w.value(4, "", "cover", "true", at+".cover", origin{p.by.from, Guess})
		}
	}
}
