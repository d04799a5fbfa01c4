package release

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/series/target"
)

// Page is a generated object of a place: a page, a picture of one, a feed, a calendar.
type Page struct {
	Name string // below the place, such as index.html or hook/index.html
	Data []byte
	Type string // media type, "" for that of the name (target.MediaType)
}

// maxPage is the largest page that is compared with what lies at a place, in bytes.
const maxPage = 32 << 20

// writePages replaces the pages of a place that differ from what lies there. It comes before the index and may
// be repeated: a run that was killed in the middle is mended by the next. Pages that are no longer made stay:
// nothing is deleted at a place.
func (r *Runner) writePages(ctx context.Context, c *Channel, x Index) error {
	if r.Pages == nil || c.Post != nil { // an outbox is for one person, who posts from it
		return nil
	}
	pages, err := r.Pages(ctx, x)
	if err != nil {
		return fmt.Errorf("making the pages of %s: %w", c.Name, err)
	}
	seen := map[string]bool{}
	for _, p := range pages {
		if err := pageName(p.Name); err != nil {
			return err
		}
		if seen[p.Name] {
			return fmt.Errorf("two pages have the name %q", p.Name)
		}
		seen[p.Name] = true
	}
	for _, p := range pages {
		same, err := holdsPage(ctx, c.Target, p)
		if err != nil {
			return err
		}
		if same {
			continue
		}
		if err := target.ReplaceAs(ctx, c.Target, p.Name, p.Data, p.Type); err != nil {
			return err
		}
	}
	return nil
}

// pageName keeps pages away from what is released and from the place's own files.
func pageName(name string) error {
	if err := target.CheckName(name); err != nil {
		return err
	}
	if slices.Contains([]string{target.MarkerName, PageName, IndexName}, name) {
		return fmt.Errorf("a page cannot be called %q: that name is the place's own", name)
	}
	if segments := strings.Split(name, "/"); len(segments) > 2 {
		if _, err := design.ParseRevision(segments[1]); err == nil {
			return fmt.Errorf("a page cannot be called %q: the files of a revision lie there, and they never change", name)
		}
	}
	return nil
}

// holdsPage says whether a place holds a page as it should be.
func holdsPage(ctx context.Context, t target.Target, p Page) (bool, error) {
	info, err := t.Stat(ctx, p.Name)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	if info.Bytes != int64(len(p.Data)) || info.Bytes > maxPage {
		return false, nil
	}
	data, err := target.Read(ctx, t, p.Name, maxPage)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	return bytes.Equal(data, p.Data), nil
}
