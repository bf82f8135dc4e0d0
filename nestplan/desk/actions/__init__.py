"""What the menus call: files opened and saved, papers printed and exported."""
