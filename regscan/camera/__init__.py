"""How a camera's pixels lie on the web, and how its values answer to light."""
