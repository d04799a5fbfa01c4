package target

import (
	"context"
	"path"
	"strings"
)

// Typed is a target that keeps a media type beside an object, as stores in the network do. A folder has no
// place for one: whatever serves it goes by the name.
type Typed interface {
	// ReplaceAs is Replace with a media type (RFC 6838) such as "application/atom+xml; charset=utf-8".
	ReplaceAs(ctx context.Context, name string, data []byte, mediaType string) error
}

// ReplaceAs replaces an object and gives it a media type where the place keeps one; "" goes by the name.
func ReplaceAs(ctx context.Context, t Target, name string, data []byte, mediaType string) error {
	if typed, ok := t.(Typed); ok && mediaType != "" {
		return typed.ReplaceAs(ctx, name, data, mediaType)
	}
	return t.Replace(ctx, name, data)
}

// mediaTypes are the types of what is released, by the end of its name. Sources: IANA's registry of media
// types; RFC 4287 (Atom), RFC 5545 (calendars), RFC 8259 (JSON), RFC 7763 (Markdown), RFC 9512 (YAML), RFC 4180
// (CSV). JSON Feed 1.1 asks for application/feed+json. Text says its encoding, or browsers guess one.
var mediaTypes = map[string]string{
	".zip":  "application/zip",
	".html": "text/html; charset=utf-8",
	".css":  "text/css; charset=utf-8",
	".txt":  "text/plain; charset=utf-8",
	".md":   "text/markdown; charset=utf-8",
	".csv":  "text/csv; charset=utf-8",
	".json": "application/json",
	".yaml": "application/yaml",
	".atom": "application/atom+xml; charset=utf-8",
	".xml":  "application/xml",
	".ics":  "text/calendar; charset=utf-8",
	".svg":  "image/svg+xml",
	".png":  "image/png",
	".jpg":  "image/jpeg",
	".jpeg": "image/jpeg",
	".webp": "image/webp",
	".gif":  "image/gif",
	".ico":  "image/vnd.microsoft.icon",
	".pdf":  "application/pdf",
	".stl":  "model/stl",
	".3mf":  "model/3mf",
	".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
	".sig":  "text/plain; charset=utf-8", // armoured SSH signatures
}

// MediaType is the type of an object by its name; what is unknown is bytes, which no browser runs.
func MediaType(name string) string {
	base := path.Base(name)
	if base == "SHA256SUMS" {
		return mediaTypes[".txt"]
	}
	if base == "feed.json" {
		return "application/feed+json"
	}
	if t, ok := mediaTypes[strings.ToLower(path.Ext(base))]; ok {
		return t
	}
	return "application/octet-stream"
}
