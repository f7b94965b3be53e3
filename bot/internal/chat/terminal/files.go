package terminal

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"

	"tarebell/bot/internal/chat"
)

// keep writes the files of message number n into folder and says where each is. A file that can't be written
// has an empty place; the first error is returned, for the log.
func keep(folder string, n int, files []chat.File) (places []string, err error) {
	for _, f := range files {
		place, e := keepOne(folder, n, f)
		if e != nil && err == nil {
			err = e
		}
		places = append(places, place)
	}
	return places, err
}

func keepOne(folder string, n int, f chat.File) (string, error) {
	if folder == "" {
		return "", nil
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return "", fmt.Errorf("making the folder for attachments: %w", err)
	}
	place := filepath.Join(folder, fmt.Sprintf("%04d-%s", n, cmp.Or(chat.FileName(f.Name), "attachment")))
	if err := os.WriteFile(place, f.Data, 0o644); err != nil {
		return "", fmt.Errorf("keeping the attachment %q: %w", f.Name, err)
	}
	return place, nil
}
