package discordtest

import (
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"strings"
)

// parseDraft reads a body, of JSON or of a form with payload_json and files.
func parseDraft(q Request) (d draft, f *failure) {
	body, files, err := Payload(q)
	if err != nil {
		return d, invalid("%v", err)
	}
	if err := json.Unmarshal(body, &d); err != nil {
		return d, invalid("%v", err)
	}
	d.files = files
	return d, nil
}

// Payload is the JSON of a request's body, and its files.
func Payload(q Request) (body []byte, files []File, err error) {
	kind, params, err := mime.ParseMediaType(q.Header.Get("Content-Type"))
	if err != nil {
		return nil, nil, fmt.Errorf("content type: %w", err)
	}
	if kind != "multipart/form-data" {
		return q.Body, nil, nil
	}
	parts := multipart.NewReader(strings.NewReader(string(q.Body)), params["boundary"])
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			return body, files, nil
		}
		if err != nil {
			return nil, nil, fmt.Errorf("form: %w", err)
		}
		data, err := io.ReadAll(part)
		if err != nil {
			return nil, nil, fmt.Errorf("form: %w", err)
		}
		if part.FormName() == "payload_json" {
			body = data
			continue
		}
		if part.FormName() != fmt.Sprintf("files[%d]", len(files)) || part.FileName() == "" {
			return nil, nil, fmt.Errorf("form: part %q with file name %q", part.FormName(), part.FileName())
		}
		files = append(files, File{Name: part.FileName(), Type: part.Header.Get("Content-Type"), Data: data})
	}
}
