#!/bin/sh
# Let the desktop know this folder's nestplan: menu entry, icon, and the file types it opens by a double click.
# Nothing is copied but those files; `install.sh --remove` takes them away again.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
data=${XDG_DATA_HOME:-$HOME/.local/share}
entry=$data/applications/nestplan.desktop
types=$data/mime/packages/nestplan-files.xml
icon=$data/icons/hicolor/scalable/apps/nestplan.svg
if [ "${1:-}" = "--remove" ]; then
    rm -f "$entry" "$types" "$icon"
else
    mkdir -p "$(dirname "$entry")" "$(dirname "$types")" "$(dirname "$icon")"
    sed "s|^Exec=nestplan|Exec=\"$here/nestplan\"|" "$here/nestplan.desktop" > "$entry"
    cp "$here/nestplan-files.xml" "$types"
    cp "$here/nestplan.svg" "$icon"
fi
for tool in "update-mime-database $data/mime" "update-desktop-database $data/applications"; do
    if command -v "${tool%% *}" > /dev/null 2>&1; then $tool > /dev/null 2>&1 || true; fi
done
