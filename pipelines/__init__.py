"""Everything of stickfleet without a screen: logs → facts → estimates → decisions → answers."""
