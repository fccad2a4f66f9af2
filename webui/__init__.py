"""A page for a thumb. It knows the controller's public face (`controller.daemon.desk_protocol`) only."""
