package target

import (
	"fmt"
	"net"
	"net/url"
	"slices"
	"strings"
)

// Store is the address of a store that speaks S3, taken apart. It holds no key: those come from the
// environment or the store's own settings files.
type Store struct {
	Bucket   string
	Prefix   string // "" or names with slashes between, without one at either end
	Region   string // "" for the environment's or the profile's
	Endpoint string // "https://host", "" for the service's own by region
	// PathStyle puts the bucket into the path instead of the host's name.
	PathStyle bool
	Profile   string // which of the settings files' profiles; "" for the environment, then the default profile
	// LookFirst gives up conditional writes, for a store that does not know them: an object is looked for before
	// it is written, and only the series' lock keeps two machines apart.
	LookFirst bool
}

// storeWords are what may stand behind the question mark.
var storeWords = []string{"region", "endpoint", "path_style", "profile", "create"}

// keyWords are parts of parameter names that would carry a key.
var keyWords = []string{"key", "secret", "token", "password", "passwd", "credential", "signature", "x-amz"}

const noKeys = "keys come from the environment or the store's own settings file (profile=NAME), never from series.yaml; whatever stood here should be replaced at the store"

// ParseStore reads `s3://BUCKET/PREFIX?region=…&endpoint=…&path_style=true&profile=…&create=look-first`. Its
// errors repeat nothing that could be a key.
func ParseStore(to string) (Store, error) {
	var s Store
	u, err := url.Parse(to)
	if err != nil || u.Scheme != "s3" || u.Host == "" || u.Opaque != "" || u.Fragment != "" {
		if strings.Contains(to, "@") {
			return s, fmt.Errorf("the address of the store holds a key: %s", noKeys)
		}
		return s, fmt.Errorf("the address of the store cannot be read: write s3://BUCKET?region=REGION")
	}
	if u.User != nil || strings.Contains(u.Host, "@") || strings.Contains(u.Path, "@") {
		return s, fmt.Errorf("the address of bucket %q holds a key: %s", u.Hostname(), noKeys)
	}
	s.Bucket, s.Prefix = u.Host, strings.Trim(u.Path, "/")
	if err := checkBucket(s.Bucket); err != nil {
		return s, err
	}
	if s.Prefix != "" {
		if err := CheckName(s.Prefix); err != nil || len(s.Prefix) > 100 {
			return s, fmt.Errorf("bucket %q: the prefix behind it takes letters, digits, dot, hyphen and underscore, at most 100", s.Bucket)
		}
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return s, fmt.Errorf("bucket %q: what stands behind the question mark cannot be read: write it as in ?region=eu-west-1&profile=shelf", s.Bucket)
	}
	for word, values := range query {
		if slices.ContainsFunc(keyWords, func(k string) bool { return strings.Contains(strings.ToLower(word), k) }) {
			return s, fmt.Errorf("the address of bucket %q holds a key: %s", s.Bucket, noKeys)
		}
		if !slices.Contains(storeWords, word) {
			return s, fmt.Errorf("bucket %q: %.20q is not known behind the question mark; it takes %s", s.Bucket, word, strings.Join(storeWords, ", "))
		}
		if len(values) != 1 || values[0] == "" || len(values[0]) > 200 {
			return s, fmt.Errorf("bucket %q: %s takes one value", s.Bucket, word)
		}
	}
	return s, s.words(query)
}

// words reads the parameters.
func (s *Store) words(query url.Values) error {
	for _, word := range []string{"region", "profile"} {
		if v := query.Get(word); strings.ContainsFunc(v, func(c rune) bool { return c < '!' || c > '~' || strings.ContainsRune(`/\[]"'@`, c) }) {
			return fmt.Errorf("bucket %q: %s is a plain name", s.Bucket, word)
		}
	}
	s.Region, s.Profile = query.Get("region"), query.Get("profile")
	s.PathStyle = strings.Contains(s.Bucket, ".") // a name with dots fits no certificate
	if v := query.Get("endpoint"); v != "" {
		endpoint, err := checkEndpoint(v)
		if err != nil {
			return fmt.Errorf("bucket %q: %w", s.Bucket, err)
		}
		s.Endpoint, s.PathStyle = endpoint, true // most stores beside the first one want it so
	}
	switch v := query.Get("path_style"); v {
	case "":
	case "true", "false":
		s.PathStyle = v == "true"
	default:
		return fmt.Errorf("bucket %q: path_style is true or false", s.Bucket)
	}
	switch query.Get("create") {
	case "":
	case "look-first":
		s.LookFirst = true
	default:
		return fmt.Errorf("bucket %q: create takes look-first, or is left away", s.Bucket)
	}
	return nil
}

// checkBucket holds the rules for names of buckets that every store shares: 3 to 63 bytes of lower-case letters,
// digits, dot and hyphen, the ends letters or digits (S3 user guide, "Bucket naming rules").
func checkBucket(name string) error {
	ok := len(name) >= 3 && len(name) <= 63 && !strings.Contains(name, "..")
	for i := range len(name) {
		c := name[i]
		alnum := 'a' <= c && c <= 'z' || '0' <= c && c <= '9'
		ok = ok && (alnum || (c == '-' || c == '.') && i > 0 && i < len(name)-1)
	}
	if !ok {
		return fmt.Errorf("%.70q is no bucket's name: 3 to 63 lower-case letters, digits and hyphens", name)
	}
	return nil
}

// checkEndpoint wants https, or a machine's own loopback.
func checkEndpoint(v string) (string, error) {
	if !strings.Contains(v, "://") {
		v = "https://" + v
	}
	u, err := url.Parse(v)
	if err != nil || u.Hostname() == "" || u.RawQuery != "" || u.Fragment != "" || u.Opaque != "" {
		return "", fmt.Errorf("endpoint is the address of a store's interface, such as https://s3.example.org")
	}
	if u.User != nil {
		return "", fmt.Errorf("the endpoint holds a key: %s", noKeys)
	}
	ip := net.ParseIP(u.Hostname())
	loopback := u.Hostname() == "localhost" || ip != nil && ip.IsLoopback()
	if u.Scheme != "https" && !(u.Scheme == "http" && loopback) {
		return "", fmt.Errorf("the endpoint %q is not reached by https: what goes there, and for whom, could be read and changed on the way", u.Host)
	}
	return strings.TrimSuffix(u.String(), "/"), nil
}

// String is the place without its parameters.
func (s Store) String() string {
	if s.Prefix == "" {
		return "s3://" + s.Bucket
	}
	return "s3://" + s.Bucket + "/" + s.Prefix
}

// Within says whether two addresses are the same place, or one lies in the other.
func (s Store) Within(o Store) bool {
	if s.Bucket != o.Bucket || !strings.EqualFold(s.Endpoint, o.Endpoint) {
		return false
	}
	a, b := s.Prefix+"/", o.Prefix+"/"
	return s.Prefix == "" || o.Prefix == "" || strings.HasPrefix(a, b) || strings.HasPrefix(b, a)
}
