package feed

import (
	"bytes"
	"encoding/json"
	"strings"
)

// The objects of JSON Feed 1.1 (https://www.jsonfeed.org/version/1.1/) that are written.
type (
	jsonFeed struct {
		Version     string       `json:"version"`
		Title       string       `json:"title"`
		Home        string       `json:"home_page_url,omitempty"`
		Self        string       `json:"feed_url,omitempty"`
		Description string       `json:"description,omitempty"`
		Language    string       `json:"language,omitempty"`
		Authors     []jsonAuthor `json:"authors"`
		Items       []jsonItem   `json:"items"`
	}
	jsonAuthor struct {
		Name string `json:"name"`
		URL  string `json:"url,omitempty"`
	}
	jsonItem struct {
		ID          string     `json:"id"`
		URL         string     `json:"url,omitempty"`
		Title       string     `json:"title"`
		HTML        string     `json:"content_html,omitempty"`
		Text        string     `json:"content_text,omitempty"`
		Summary     string     `json:"summary,omitempty"`
		Image       string     `json:"image,omitempty"`
		Published   string     `json:"date_published"`
		Modified    string     `json:"date_modified"`
		Attachments []jsonFile `json:"attachments,omitempty"`
	}
	jsonFile struct {
		URL   string `json:"url"`
		Type  string `json:"mime_type"`
		Title string `json:"title,omitempty"`
		Bytes int64  `json:"size_in_bytes,omitempty"`
	}
)

// WriteJSON writes a feed as a JSON Feed 1.1. That format knows no base for relative addresses, so those that are
// relative are left out. An error names the entry that breaks a rule; then nothing is given.
func WriteJSON(f Feed) ([]byte, error) {
	f, err := f.order()
	if err != nil {
		return nil, err
	}
	out := jsonFeed{Version: "https://jsonfeed.org/version/1.1", Title: line(f.Title), Home: web(f.Home), Self: web(f.JSON), Description: line(f.Subtitle), Language: f.Language,
		Authors: []jsonAuthor{{line(f.Author.Name), web(f.Author.URL)}}, Items: []jsonItem{}}
	for _, x := range f.Items {
		i := jsonItem{ID: x.ID, URL: web(x.URL), Title: line(x.Title), HTML: x.HTML, Summary: line(x.Summary), Image: web(x.Image), Published: stamp(x.Published), Modified: stamp(x.Updated)}
		if i.HTML == "" { // one of the two must be there
			i.Text = line(x.Summary)
		}
		if i.HTML == "" && i.Text == "" {
			i.Text = i.Title
		}
		for _, file := range x.Files {
			if web(file.URL) != "" {
				i.Attachments = append(i.Attachments, jsonFile{file.URL, file.Type, file.Title, file.Bytes})
			}
		}
		out.Items = append(out.Items, i)
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(out); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// web passes absolute addresses on and drops others.
func web(s string) string {
	if strings.HasPrefix(s, "https://") || strings.HasPrefix(s, "http://") {
		return s
	}
	return ""
}
