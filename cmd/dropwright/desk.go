package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
	"dropwright/series/catalogue"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
	"dropwright/series/site"
	"dropwright/series/site/desk"
)

// bench is where the maker's pages get what they show: it reads the series' folder as it is, measures each design when
// its page is asked for, and keeps what it has until it is told of a change. The pages may be asked for by several
// requests at once; what is measured is measured one design after another, as the other commands do it.
type bench struct {
	a    *app
	dir  string
	root *os.Root
	// wait is how long a page waits for its design to be measured before it shows without; 0 is until it is done.
	wait time.Duration
	// touched says that a design that a page did not wait for is measured now; may be nil.
	touched func(design string)

	lock    sync.Mutex
	series  *season // nil: to be opened afresh
	whole   *desk.Season
	last    *desk.Season // what whole was before the last change
	looking bool         // whole is being worked out for pages that show last
	boards  []desk.Board
	designs map[string]*benched

	one  sync.Mutex // measuring and looking over the season
	jobs sync.WaitGroup
}

// benched is one design, measured or being measured.
type benched struct {
	done chan struct{} // closed when x and err are there
	x    *desk.Design
	err  error
	told bool // a page that did not wait is told when it is done
}

// openBench opens the series' folder for pages. Unlike other commands it takes a series.yaml that cannot be read as
// meant: the pages say why.
func (a *app) openBench(wait time.Duration) (*bench, error) {
	dir, err := a.findSeries()
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, machine("check that you may read the folder", "opening the series: %w", err)
	}
	return &bench{a: a, dir: dir, root: root, wait: wait, designs: map[string]*benched{}}, nil
}

// close waits a moment for what is being measured, so that it leaves nothing half in the cache; the system would tidy
// up after a process that ends.
func (b *bench) close() {
	done := make(chan struct{})
	go func() { b.jobs.Wait(); close(done) }()
	select {
	case <-done:
	case <-time.After(3 * time.Second):
	}
	b.root.Close()
}

// forget drops what a change of some areas made old.
func (b *bench) forget(areas []string) {
	b.lock.Lock()
	defer b.lock.Unlock()
	if b.whole != nil {
		b.last = b.whole
	}
	b.series, b.whole, b.boards = nil, nil, nil
	for _, x := range areas {
		if x == "" {
			clear(b.designs)
			return
		}
		delete(b.designs, x)
	}
}

// open reads series.yaml and lists the designs; b.lock is held.
func (b *bench) open() (*season, error) {
	if b.series != nil {
		return b.series, nil
	}
	s, err := catalogue.Open(b.root.FS(), b.a.shown(b.dir), board.Builtin())
	if err != nil {
		if errors.Is(err, catalogue.ErrNoSeries) {
			return nil, unreadable("put it back; the pages come back with it", "there is no series.yaml any more in %s", b.a.shown(b.dir))
		}
		return nil, machine("check that you may read the folder", "%w", err)
	}
	b.series = &season{Series: s, dir: b.dir, root: b.root}
	return b.series, nil
}

// opened is open for who does not hold the lock.
func (b *bench) opened() (*season, error) {
	b.lock.Lock()
	defer b.lock.Unlock()
	return b.open()
}

// sick reports whether a series cannot be worked with; the findings say why.
func sick(s *season) bool {
	return s.Config == nil || finding.Count(s.Findings, finding.Error) > 0
}

// Season is desk.Source's.
func (b *bench) Season(ctx context.Context) (*desk.Season, error) {
	b.lock.Lock()
	s, err := b.open()
	have := b.whole
	b.lock.Unlock()
	if err != nil || have != nil {
		return have, err
	}
	b.one.Lock()
	defer b.one.Unlock()
	b.lock.Lock()
	have = b.whole
	b.lock.Unlock()
	if have != nil { // another request was faster
		return have, nil
	}
	out := &desk.Season{Title: filepath.Base(b.dir), Names: s.Names, Told: s.Findings, Texts: desk.Texts{}}
	out.Texts.Add(s.Text)
	if c := s.Config; c != nil {
		if c.Title.Set() {
			out.Title = string(c.Title.V)
		}
		out.Maker, out.Accent = string(c.Maker.Name.V), string(c.Accent.V)
	}
	if !sick(s) {
		cal, found := schedule.CalendarOf(s.Config)
		if cal == nil || finding.Count(found, finding.Error) > 0 {
			out.Told = append(out.Told, found...)
		} else {
			out.Zone = cal.Zone().In(time.Time{}).Location()
			v, err := b.a.outlook(s)
			switch {
			case err == nil:
				out.Outlook = &v.Season
			case b.a.ctx.Err() != nil:
				return nil, err
			default: // a record that cannot be read keeps no design from being shown
				out.Trouble = append(out.Trouble, said(err))
			}
		}
	}
	b.lock.Lock()
	defer b.lock.Unlock()
	if b.series == s { // nothing changed meanwhile
		b.whole = out
	}
	return out, nil
}

// said is an error with its way forward, as one text.
func said(err error) string {
	text := err.Error()
	if s, ok := errors.AsType[*statusError](err); ok && s.hint != "" {
		text += ": " + strings.ReplaceAll(s.hint, "\n", " ")
	}
	return text
}

// Design is desk.Source's.
func (b *bench) Design(ctx context.Context, name string, whole bool) (*desk.Design, error) {
	b.lock.Lock()
	s, err := b.open()
	if err != nil {
		b.lock.Unlock()
		return nil, err
	}
	if !s.Has(name) {
		b.lock.Unlock()
		return nil, fmt.Errorf("design %q: %w", name, site.ErrNoPage)
	}
	x := b.designs[name]
	if x == nil {
		x = &benched{done: make(chan struct{})}
		b.designs[name] = x
		b.jobs.Go(func() { b.measure(s, name, x) })
	}
	b.lock.Unlock()
	var late <-chan time.Time
	if b.wait > 0 && !whole {
		late = time.After(b.wait)
	}
	select {
	case <-x.done:
		if x.err != nil {
			return nil, x.err
		}
		out := *x.x
		return &out, b.surround(ctx, &out)
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-late:
	}
	out, err := b.read(s, name)
	if err != nil {
		return nil, err
	}
	out.Measuring = finding.Count(out.Found, finding.Error) == 0
	b.lock.Lock()
	if last := b.last; last != nil { // better an old week than none
		out.Week, out.Reports = ofSeason(last, name)
		out.Season.Outlook, out.Season.Zone = last.Outlook, last.Zone
	}
	b.lock.Unlock()
	b.lock.Lock()
	defer b.lock.Unlock()
	if !x.told && b.touched != nil {
		x.told = true
		go func() {
			<-x.done
			b.touched(name)
		}()
	}
	return out, nil
}

// read decodes a manifest without measuring anything.
func (b *bench) read(s *season, name string) (*desk.Design, error) {
	out := &desk.Design{Name: name, File: s.Path(name, catalogue.DesignFile), Texts: desk.Texts{}, BoardTitle: boardTitle,
		Season: &desk.Season{Title: filepath.Base(b.dir), Names: s.Names, Told: s.Findings, Texts: desk.Texts{}}}
	out.Season.Texts.Add(s.Text)
	if s.Config != nil && s.Config.Title.Set() {
		out.Season.Title = string(s.Config.Title.V)
	}
	e, err := s.Load(name)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) { // it went while it was being looked at
			return nil, fmt.Errorf("design %q: %w", name, site.ErrNoPage)
		}
		return nil, machine("check that you may read the folder", "%w", err)
	}
	out.Texts.Add(e.Text)
	out.Found, out.Manifest = e.Findings, e.Design
	return out, nil
}

// measure reads, measures and judges one design.
func (b *bench) measure(s *season, name string, x *benched) {
	b.one.Lock()
	defer b.one.Unlock()
	defer close(x.done)
	out, err := b.read(s, name)
	if err != nil {
		x.err = err
		return
	}
	x.x = out
	if sick(s) {
		return
	}
	e, w, err := b.a.examine(s, name, "", measure.Topics{Estimate: true})
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			err = fmt.Errorf("design %q: %w", name, site.ErrNoPage)
		}
		x.err = err
		return
	}
	out.Found = slices.Clone(e.Findings)
	if w == nil {
		return
	}
	out.Work = w
	for _, t := range w.Facts.Texts {
		out.Texts.Add(source.NewText(path.Join(path.Dir(e.Text.File), t.File), []byte(t.Body)))
	}
	out.Found = append(out.Found, w.Checked.Findings...)
	out.Unjudged, out.AsIs = w.Checked.NotChecked, w.Checked.UsedAsIs
	for _, r := range b.a.logged(s) {
		if r.Design == name {
			out.Trials = append(out.Trials, r)
		}
	}
}

// surround adds what the season knows of a design.
func (b *bench) surround(ctx context.Context, x *desk.Design) error {
	s, err := b.seasonNear(ctx, x.Name)
	if err != nil {
		return err
	}
	x.Season = s
	x.Week, x.Reports = ofSeason(s, x.Name)
	return nil
}

// ofSeason is what a season knows of one design.
func ofSeason(s *desk.Season, name string) (week *outlook.Week, reports []outlook.Report) {
	if s.Outlook == nil {
		return nil, nil
	}
	for _, list := range [][]outlook.Week{s.Outlook.Weeks, s.Outlook.Waiting} {
		for i := range list {
			if list[i].Design == name && week == nil {
				week = &list[i]
			}
		}
	}
	for _, r := range s.Outlook.Reports {
		if r.Design == name {
			reports = append(reports, r)
		}
	}
	return week, reports
}

// seasonNear is the season for a page that shows one design of it. Looking over a season of many designs takes longer
// than a page should after a change: the page shows the season as it was before, and is told when the new one says
// something else of its design. Where the list of designs or series.yaml changed, it waits.
func (b *bench) seasonNear(ctx context.Context, name string) (*desk.Season, error) {
	b.lock.Lock()
	now, last, s := b.whole, b.last, b.series
	if now != nil || last == nil || s == nil || b.wait == 0 || b.touched == nil || sick(s) || last.Outlook == nil || !slices.Equal(last.Names, s.Names) || last.Texts[s.Text.File] == nil || last.Texts[s.Text.File].Body != s.Text.Body {
		b.lock.Unlock()
		return b.Season(ctx)
	}
	begin := !b.looking
	b.looking = true
	b.lock.Unlock()
	if begin {
		b.jobs.Go(func() {
			fresh, err := b.Season(b.a.ctx)
			b.lock.Lock()
			b.looking = false
			b.lock.Unlock()
			if err != nil {
				b.touched(name)
				return
			}
			for _, n := range fresh.Names {
				was, had := ofSeason(last, n)
				is, has := ofSeason(fresh, n)
				if !reflect.DeepEqual(was, is) || !reflect.DeepEqual(had, has) {
					b.touched(n)
				}
			}
		})
	}
	return last, nil
}

// Boards is desk.Source's.
func (b *bench) Boards(ctx context.Context) ([]desk.Board, error) {
	b.lock.Lock()
	defer b.lock.Unlock()
	if b.boards != nil {
		return b.boards, nil
	}
	s, err := b.open()
	if err != nil {
		return nil, err
	}
	for _, id := range board.Builtin() {
		p, err := board.Load(id)
		if err != nil {
			return nil, machine("", "%w", err)
		}
		b.boards = append(b.boards, deskBoard(id, id, "", p))
	}
	for _, name := range s.Names {
		if err := b.boardsOf(s, name); err != nil {
			b.boards = nil
			return nil, err
		}
	}
	return b.boards, nil
}

// boardsOf notes which boards a design uses, and adds its own profiles.
func (b *bench) boardsOf(s *season, name string) error {
	e, err := s.Load(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return machine("check that you may read the folder", "%w", err)
	}
	own := func(file string) int {
		shown := s.Path(name, file)
		key := name + "--" + strings.TrimSuffix(path.Base(file), path.Ext(file))
		if i := slices.IndexFunc(b.boards, func(x desk.Board) bool { return x.Key == key }); i >= 0 {
			return i
		}
		const most = 1 << 20 // bytes, as for `boards show`
		st, err := fs.Stat(e.FS, file)
		if err != nil || st.Size() > most {
			return -1 // check says so
		}
		data, err := fs.ReadFile(e.FS, file)
		if err != nil {
			return -1
		}
		x := desk.Board{Key: key, ID: file, File: shown, Title: path.Base(file)}
		p, found := board.Parse(shown, data)
		if p != nil && finding.Count(found, finding.Error) == 0 {
			x = deskBoard(key, file, shown, p)
		}
		x.Told, x.Texts = found, desk.Texts{}
		x.Texts.Add(source.NewText(shown, data))
		b.boards = append(b.boards, x)
		return len(b.boards) - 1
	}
	if e.Design != nil {
		for _, v := range e.Design.Variants {
			for _, u := range v.BoardList() {
				id := string(u.Profile.V)
				i := slices.IndexFunc(b.boards, func(x desk.Board) bool { return x.Key == id && x.File == "" })
				if design.IsFile(id) && fs.ValidPath(id) {
					i = own(id)
				}
				if i >= 0 {
					b.boards[i].UsedBy = append(b.boards[i].UsedBy, desk.Use{Design: name, Variant: string(v.Name.V)})
				}
			}
		}
	}
	written, err := fs.Glob(e.FS, "boards/*.yaml")
	if err != nil {
		return nil // the pattern is right: no error can come
	}
	for _, file := range written {
		own(file)
	}
	return nil
}

// deskBoard is a profile as its page shows it.
func deskBoard(key, id, file string, p *board.Profile) desk.Board {
	o := p.Outline
	x := desk.Board{Key: key, ID: id, File: file, Title: p.Title.S, Size: lengthOr(o.Length) + " × " + lengthOr(o.Width) + " mm",
		Standard: strings.Join(strings.Fields(p.Designation.Standard.S+" "+p.Designation.Edition.S+" "+p.Designation.Figure.S), " "),
		Drawing:  func() string { return drawBoard(p) }}
	size := x.Size
	if o.Tolerance.Given {
		size += " ± " + lengthOr(o.Tolerance) + " mm"
	}
	x.Facts = [][2]string{{"outline", size + basisMark(p, "", "outline.length")}, {"thickness", lengthOr(o.Thickness) + " mm"},
		{"parts over it", lengthOr(p.Heights.Top) + " mm"}, {"parts under it", lengthOr(p.Heights.Bottom) + " mm"},
		{"coordinates", "mm; origin at the lower left corner seen from the component side, z up from the board's top"}}
	for i := range x.Facts {
		if strings.HasPrefix(x.Facts[i][1], "? ") {
			x.Facts[i][1] = "not known"
		}
	}
	titles := map[string]string{"mount": "Mounting holes", "port": "Ports", "header": "Headers", "rail": "Rails", "keep free": "Keep free"}
	for _, t := range boardTables(p) {
		head := slices.Clone(t[0])
		for i := range head {
			if head[i] == "" {
				head[i] = "needed"
			}
			if slices.ContainsFunc(t[1:], func(r []string) bool { return strings.HasPrefix(r[i], "\t") }) {
				head[i] = "\t" + head[i]
			}
		}
		title := titles[t[0][0]]
		if title == "" {
			title = t[0][0]
		}
		x.Tables = append(x.Tables, site.Plain(title, head, t[1:]))
	}
	for _, s := range p.Sources {
		text := s.Title.S
		if s.Where.S != "" {
			text += " (" + s.Where.S + ")"
		}
		x.Sources = append(x.Sources, text)
	}
	for _, n := range p.Notes {
		x.Notes = append(x.Notes, n.S)
	}
	return x
}
